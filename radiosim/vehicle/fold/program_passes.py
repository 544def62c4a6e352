"""The receiver's program once more, beside the link (rules E and F)."""

from radiosim.engine.plan_rows import PROGRAM_PAUSES, PROGRAM_STARTS, PROGRAM_STOPS
from radiosim.engine.rules.timing import pass_from, pass_length
from radiosim.marks import rule
from radiosim.trace import READ, THROWN_AWAY, ReadRow
from radiosim.vehicle.fold.program_state import (
    FAILSAFE,
    LEFT,
    STARTED,
    STOPPED,
    WRITTEN,
    Columns,
    Events,
    Latch,
    ProgramState,
    TimerState,
    arrives,
    is_read,
    may_resume,
    over_at,
    runs_out,
    start_timer,
)
from radiosim.vehicle.fold.values import said

PAST, WANTS_ROWS, FULL = range(3)
"""Why passes are no longer taken: the next lies past the limit; no more at hand; no room."""
ROOM, ROOM_A_FRAME = 64, 24
"""Events that a pass can make, and how many more with each frame that it reads."""


@rule
def tell(p: ProgramState, e: Events, stream: int, at_ns: int, kind: int, fed_ns: int) -> None:
    """Write down an event, but for what it carries."""
    event = e[p.events]
    p.events += 1
    event.stream = stream
    event.at_ns = at_ns
    event.kind = kind
    event.fed_ns = fed_ns
    event.read = -1


@rule
def tell_written(p: ProgramState, e: Events, stream: int, at_ns: int) -> None:
    """Write down that outputs get what is latched."""
    event, latch = e[p.events], p.latched[stream]
    tell(p, e, stream, at_ns, WRITTEN, 0)
    p.writes += 1
    event.read = latch.read
    event.frame = latch.frame
    event.sampled_ns = latch.sampled_ns
    event.values_ns = latch.values_ns
    event.values_frame = latch.values_frame


@rule
def enter(p: ProgramState, e: Events, k: int, at_ns: int) -> None:
    """Failsafe comes on; frames in a row start to count afresh."""
    timer = p.timer[k]
    tell(p, e, timer.stream, at_ns, FAILSAFE, timer.fed_ns)
    timer.is_on = 1
    timer.in_a_row = 0


@rule
def look(p: ProgramState, e: Events, start_ns: int) -> None:
    """The look of one pass (rule F2)."""
    for k in range(p.timers):
        if runs_out(p.timer[k], start_ns):
            enter(p, e, k, start_ns)


@rule
def expire_until(p: ProgramState, e: Events, at_ns: int) -> None:
    """Timers that run out are found at the first idle pass after that (rule F2)."""
    if p.running == 0 or p.paused == 1:
        return
    for k in range(p.timers):
        timer = p.timer[k]
        if timer.is_on == 1:
            continue
        over_ns = over_at(timer, timer.fed_ns)
        if over_ns >= at_ns:
            continue
        found_ns = p.next_ns
        if found_ns < over_ns:
            _, _, found_ns = pass_from(p.rx, p.base_ns, p.previous_ns, p.next_ns, over_ns)
        if found_ns < at_ns:
            enter(p, e, k, found_ns)


@rule
def watched_in(timer: TimerState, c: Columns, read: ReadRow) -> float:
    """What the field that a timer watches says in a frame of its stream; 0 without meaning."""
    if timer.watches == 0 or read.stream != timer.stream:
        return 0.0
    return said(timer.watched, c.points, read.values_frame, read.values_ns)


@rule
def needed_in(timer: TimerState, c: Columns, held: Latch) -> float:
    """What the field that a timer needs near neutral says in the latched frame."""
    if timer.needs == 0 or held.read < 0:
        return 0.0
    return said(timer.needed, c.points, held.values_frame, held.values_ns)


@rule
def arrive_until(p: ProgramState, c: Columns, e: Events, at_ns: int) -> None:
    """Feed timers that are fed at arrival, expiring between arrivals."""
    if p.is_fed_at_arrival == 0:
        return
    while p.taken_arrivals < len(c.reads) and c.reads[p.taken_arrivals].accepted_ns <= at_ns:
        row = p.taken_arrivals
        p.taken_arrivals += 1
        if p.running == 0:
            continue
        arrival = c.reads[row]
        expire_until(p, e, arrival.accepted_ns)
        for k in range(p.timers):
            watched = watched_in(p.timer[k], c, arrival)
            arrives(p.timer[k], arrival.stream, arrival.accepted_ns, watched)


@rule
def write(p: ProgramState, e: Events, start_ns: int) -> None:
    """Write what was latched, but for streams in failsafe."""
    for stream in range(p.streams):
        if p.unwritten[stream] == 0:
            continue
        p.unwritten[stream] = 0
        k = p.timer_of[stream]
        if p.latched[stream].read >= 0 and not (k >= 0 and p.timer[k].is_on == 1):
            tell_written(p, e, stream, start_ns)


@rule
def idle_until(p: ProgramState, c: Columns, e: Events, at_ns: int) -> None:
    """Every pass before `at_ns` that read nothing: looks, and writes what interrupts read."""
    if p.must_write == 1 and p.paused == 0 and p.next_ns < at_ns:
        start_ns = p.next_ns
        arrive_until(p, c, e, start_ns)
        look(p, e, start_ns)
        write(p, e, start_ns)
        p.must_write = 0
        length_ns = pass_length(p.rx, p.base_ns, p.previous_ns, start_ns, 0)
        p.previous_ns = start_ns
        p.next_ns = start_ns + length_ns
    arrive_until(p, c, e, at_ns)
    expire_until(p, e, at_ns)


@rule
def latch(held: Latch, read: ReadRow, row: int) -> None:
    """Keep what a frame says until the outputs get it."""
    held.read = row
    held.frame = read.frame
    held.sampled_ns = read.sampled_ns
    held.values_ns = read.values_ns
    held.values_frame = read.values_frame


@rule
def feed(p: ProgramState, c: Columns, e: Events, row: int) -> None:
    """One frame read: latch it, feed the timers, end failsafe where that is due (F1, F3)."""
    read = c.reads[row]
    stream, now = read.stream, read.read_ns
    latch(p.latched[stream], read, p.rows + row)
    p.unwritten[stream] = 1
    for k in range(p.timers):
        timer = p.timer[k]
        if not is_read(timer, stream, now, watched_in(timer, c, read)):
            continue
        held = p.latched[timer.stream]
        if may_resume(timer, held.read >= 0, needed_in(timer, c, held)):
            timer.is_on = 0
            tell(p, e, timer.stream, now, LEFT, 0)
            p.unwritten[timer.stream] = 1


@rule
def is_seen(read: ReadRow) -> bool:
    """Whether the program saw a frame that stood in the FIFO."""
    return read.outcome in (READ, THROWN_AWAY)


@rule
def skip_unseen(p: ProgramState, c: Columns) -> None:
    """Skips to the next frame that the program saw."""
    while p.taken_reads < len(c.reads) and not is_seen(c.reads[p.taken_reads]):
        p.taken_reads += 1


@rule
def last_read_ns(p: ProgramState, c: Columns, frames: int) -> int:
    """When the last frame of the next pass is read."""
    row, left = p.taken_reads, frames - 1
    while left > 0:
        row += 1
        if is_seen(c.reads[row]):
            left -= 1
    return c.reads[row].read_ns


@rule
def take_pass(p: ProgramState, c: Columns, e: Events) -> None:
    """The next pass with reads; those of a polling program come at its start (E1, E2)."""
    taken = c.passes[p.taken_passes]
    p.taken_passes += 1
    p.previous_ns, p.next_ns = taken.start_ns, taken.next_ns
    for _ in range(taken.frames):
        skip_unseen(p, c)
        row = p.taken_reads
        p.taken_reads += 1
        arrive_until(p, c, e, c.reads[row].read_ns)
        if c.reads[row].outcome == READ:
            feed(p, c, e, row)
    if p.rx.interrupt == 1:
        p.must_write = 1
    else:
        look(p, e, taken.start_ns)
        write(p, e, taken.start_ns)


@rule
def tell_pass(p: ProgramState, c: Columns, first_ns: int) -> None:
    """Write down the next pass with reads; the first of them is at `first_ns`."""
    told, taken = c.told[p.told_passes], c.passes[p.taken_passes]
    p.told_passes += 1
    told.first_ns = first_ns
    told.start_ns = taken.start_ns
    told.next_ns = taken.next_ns


@rule
def start(p: ProgramState, e: Events, now: int) -> None:
    """The program has booted."""
    p.running = 1
    p.paused = 0
    p.base_ns = p.next_ns = now
    p.previous_ns = now - 1
    for k in range(p.timers):
        start_timer(p.timer[k], now)
    for stream in range(p.streams):
        tell(p, e, stream, now, STARTED, 0)


@rule
def stop(p: ProgramState, e: Events, now: int) -> None:
    """The program is down: outputs float, latches are gone."""
    p.running = p.paused = p.must_write = 0
    for stream in range(p.streams):
        p.latched[stream].read = -1
        p.unwritten[stream] = 0
        tell(p, e, stream, now, STOPPED, 0)


@rule
def pause(p: ProgramState, now: int) -> None:
    """The program stands still (rule E3, hang)."""
    if p.next_ns < now:
        _, p.previous_ns, p.next_ns = pass_from(p.rx, p.base_ns, p.previous_ns, p.next_ns, now)
    p.paused = 1
    p.paused_ns = now


@rule
def resume(p: ProgramState, now: int) -> None:
    """It goes on: all that was to come is later by the time it stood."""
    p.paused = 0
    p.next_ns += now - p.paused_ns


@rule
def fold_passes(p: ProgramState, c: Columns, e: Events, limit_ns: int, is_included: bool) -> int:
    """Take passes whose reads come before `limit_ns`, or at it too; why that came to an end."""
    while p.taken_passes < len(c.passes):
        frames = c.passes[p.taken_passes].frames
        if p.events + ROOM + ROOM_A_FRAME * frames > len(e) or p.told_passes == len(c.told):
            return FULL
        skip_unseen(p, c)
        first_ns = c.reads[p.taken_reads].read_ns
        if first_ns > limit_ns or (first_ns == limit_ns and not is_included):
            # What arrived before a step must have fed its timers before it.
            is_known = p.is_fed_at_arrival == 0 or limit_ns < c.known_ns
            return PAST if is_known else WANTS_ROWS
        if p.is_fed_at_arrival == 1 and last_read_ns(p, c, frames) >= c.known_ns:
            return WANTS_ROWS
        idle_until(p, c, e, first_ns)
        if p.tells_passes == 1:
            tell_pass(p, c, first_ns)
        take_pass(p, c, e)
        p.told_ns = first_ns
    skip_unseen(p, c)
    return WANTS_ROWS


@rule
def fold_step(p: ProgramState, c: Columns, e: Events, kind: int, now: int) -> None:
    """One step of the program (rule E3), after the passes before it."""
    idle_until(p, c, e, now)
    if kind == PROGRAM_STARTS:
        start(p, e, now)
    elif kind == PROGRAM_STOPS:
        stop(p, e, now)
    elif kind == PROGRAM_PAUSES:
        pause(p, now)
    else:
        resume(p, now)
    p.told_ns = now


@rule
def fold_idle(p: ProgramState, c: Columns, e: Events, until_ns: int) -> None:
    """No more passes read anything until an instant."""
    idle_until(p, c, e, until_ns)
    p.told_ns = until_ns
