"""The receiver's program once more, beside the link (rules E and F)."""

from radiosim.engine.plan_rows import PROGRAM_PAUSES, PROGRAM_STARTS, PROGRAM_STOPS
from radiosim.engine.rules.passes import pass_from, pass_length
from radiosim.marks import rule
from radiosim.trace import READ
from radiosim.vehicle.fold.records import (
    EVENTS,
    FAILSAFE,
    LEFT,
    STARTED,
    STOPPED,
    WRITTEN,
    Columns,
    ProgramState,
)
from radiosim.vehicle.fold.timer import arrives, is_read, may_resume, runs_out, start_timer


@rule
def tell(p: ProgramState, stream: int, at_ns: int, kind: int, read: int, fed_ns: int) -> None:
    """Write down an event."""
    event = p.event[p.events]
    p.events += 1
    event.stream = stream
    event.at_ns = at_ns
    event.kind = kind
    event.read = read
    event.fed_ns = fed_ns


@rule
def enter(p: ProgramState, k: int, at_ns: int) -> None:
    """Failsafe comes on; frames in a row start to count afresh."""
    timer = p.timer[k]
    tell(p, timer.stream, at_ns, FAILSAFE, -1, timer.fed_ns)
    timer.is_on = 1
    timer.in_a_row = 0


@rule
def look(p: ProgramState, start_ns: int) -> None:
    """The look of one pass (rule F2)."""
    for k in range(p.timers):
        if runs_out(p.timer[k], start_ns):
            enter(p, k, start_ns)


@rule
def expire_until(p: ProgramState, at_ns: int) -> None:
    """Timers that run out are found at the first idle pass after that (rule F2)."""
    if p.running == 0 or p.paused == 1:
        return
    for k in range(p.timers):
        timer = p.timer[k]
        over_ns = timer.fed_ns + timer.timeout_ns + 1
        if timer.is_on == 1 or over_ns >= at_ns:
            continue
        found_ns = p.next_ns
        if found_ns < over_ns:
            _, _, found_ns = pass_from(p.rx, p.base_ns, p.previous_ns, p.next_ns, over_ns)
        if found_ns < at_ns:
            enter(p, k, found_ns)


@rule
def arrive_until(p: ProgramState, c: Columns, at_ns: int) -> None:
    """Feed timers that are fed at arrival, expiring between arrivals."""
    while p.taken_arrivals < len(c.arrival_ns) and c.arrival_ns[p.taken_arrivals] <= at_ns:
        row = p.taken_arrivals
        p.taken_arrivals += 1
        if p.running == 1:
            expire_until(p, c.arrival_ns[row])
            for k in range(p.timers):
                arrives(p.timer[k], c.arrival_stream[row], c.arrival_ns[row], c.watched[k][row])


@rule
def write(p: ProgramState, start_ns: int) -> None:
    """Write what was latched, but for streams in failsafe."""
    for stream in range(p.streams):
        if p.unwritten[stream] == 0:
            continue
        p.unwritten[stream] = 0
        k = p.timer_of[stream]
        if p.latched[stream] >= 0 and not (k >= 0 and p.timer[k].is_on == 1):
            tell(p, stream, start_ns, WRITTEN, p.latched[stream], 0)


@rule
def idle_until(p: ProgramState, c: Columns, at_ns: int) -> None:
    """Every pass before `at_ns` that read nothing: looks, and writes what interrupts read."""
    if p.must_write == 1 and p.paused == 0 and p.next_ns < at_ns:
        start_ns = p.next_ns
        arrive_until(p, c, start_ns)
        look(p, start_ns)
        write(p, start_ns)
        p.must_write = 0
        length_ns = pass_length(p.rx, p.base_ns, p.previous_ns, start_ns, 0)
        p.previous_ns = start_ns
        p.next_ns = start_ns + length_ns
    arrive_until(p, c, at_ns)
    expire_until(p, at_ns)


@rule
def feed(p: ProgramState, c: Columns, index: int) -> None:
    """One frame read: latch it, feed the timers, end failsafe where that is due (F1, F3)."""
    stream, now, row = c.read_stream[index], c.read_ns[index], c.read_row[index]
    p.latched[stream] = row
    p.unwritten[stream] = 1
    for k in range(p.timers):
        timer = p.timer[k]
        if not is_read(timer, stream, now, c.watched[k][row]):
            continue
        held = p.latched[timer.stream]
        if may_resume(timer, held >= 0, c.needed[k][max(held, 0)]):
            timer.is_on = 0
            tell(p, timer.stream, now, LEFT, -1, 0)
            p.unwritten[timer.stream] = 1


@rule
def take_pass(p: ProgramState, c: Columns) -> None:
    """The next pass with reads; those of a polling program come at its start (E1, E2)."""
    row, at = p.taken_passes, p.taken_reads
    p.taken_passes += 1
    p.taken_reads += c.pass_frames[row]
    p.previous_ns, p.next_ns = c.pass_start_ns[row], c.pass_next_ns[row]
    for index in range(at, p.taken_reads):
        arrive_until(p, c, c.read_ns[index])
        if c.read_outcome[index] == READ:
            feed(p, c, index)
    if p.rx.interrupt == 1:
        p.must_write = 1
    else:
        look(p, c.pass_start_ns[row])
        write(p, c.pass_start_ns[row])


@rule
def start(p: ProgramState, now: int) -> None:
    """The program has booted."""
    p.running = 1
    p.paused = 0
    p.base_ns = p.next_ns = now
    p.previous_ns = now - 1
    for k in range(p.timers):
        start_timer(p.timer[k], now)
    for stream in range(p.streams):
        tell(p, stream, now, STARTED, -1, 0)


@rule
def stop(p: ProgramState, now: int) -> None:
    """The program is down: outputs float, latches are gone."""
    p.running = p.paused = p.must_write = 0
    for stream in range(p.streams):
        p.latched[stream] = -1
        p.unwritten[stream] = 0
        tell(p, stream, now, STOPPED, -1, 0)


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


def fold_passes(p: ProgramState, c: Columns, limit_ns: int, is_included: bool) -> bool:
    """Take passes whose reads come before `limit_ns`, or at it too; false: events want emptying."""
    while p.taken_passes < len(c.pass_start_ns):
        if p.events >= EVENTS:
            return False
        first_ns = c.read_ns[p.taken_reads]
        if first_ns > limit_ns or (first_ns == limit_ns and not is_included):
            break
        idle_until(p, c, first_ns)
        take_pass(p, c)
    return True


def fold_step(p: ProgramState, c: Columns, kind: int, now: int) -> None:
    """One step of the program (rule E3), after the passes before it."""
    idle_until(p, c, now)
    if kind == PROGRAM_STARTS:
        start(p, now)
    elif kind == PROGRAM_STOPS:
        stop(p, now)
    elif kind == PROGRAM_PAUSES:
        pause(p, now)
    else:
        resume(p, now)


def fold_idle(p: ProgramState, c: Columns, until_ns: int) -> None:
    """No more passes read anything until an instant."""
    idle_until(p, c, until_ns)
