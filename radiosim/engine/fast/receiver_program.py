"""The receiver's program (rule E), part by part: see reference/receiver_program.py."""

from radiosim.engine.fast.world import (
    World,
    clear_due,
    copy_frame,
    is_due,
    log_pass,
    log_read,
    set_due,
)
from radiosim.engine.plan_rows import NEWEST, ONE
from radiosim.engine.rules.slots import pass_slot, read_slot
from radiosim.engine.rules.timing import interrupts_off_due, pass_from, pass_length
from radiosim.engine.timeline import FOREVER_NS
from radiosim.trace import READ, THROWN_AWAY


def upcoming(w: World, at_ns: int) -> tuple[int, int, int]:
    """The first pass at or after `at_ns`, if those until then are idle, and two before it."""
    if w.next_ns >= at_ns:
        return w.before_ns, w.previous_ns, w.next_ns
    return pass_from(w.rx, w.base_ns, w.previous_ns, w.next_ns, at_ns)


def wake(w: World, now: int) -> None:
    """Frames wait: set the turn for the pass or the interrupt that reads the first of them."""
    rx = w.rx
    slot = read_slot(w.n) if rx.interrupt == 1 else pass_slot(w.n)
    if w.running == 0 or w.paused == 1 or is_due(w, slot):
        return
    accepted_ns = w.fifo[0].accepted_ns
    before_ns, previous_ns, next_ns = upcoming(w, accepted_ns)
    w.coming_before_ns, w.coming_previous_ns, w.coming_next_ns = before_ns, previous_ns, next_ns
    if rx.interrupt == 0:
        set_due(w, slot, next_ns)
        return
    off_ns = interrupts_off_due(rx, w.base_ns, before_ns, previous_ns)
    set_due(w, slot, max(accepted_ns, previous_ns + off_ns, now))


def set_turn(w: World, now: int) -> None:
    """Find out when frames are read next, as far as that is known."""
    if w.fill > 0:
        wake(w, now)


def clear_turn(w: World) -> None:
    """No read is due."""
    clear_due(w, read_slot(w.n))
    clear_due(w, pass_slot(w.n))


def log_pass_under_way(w: World) -> None:
    """Write down a pass in which interrupts read frames."""
    if w.read_in_pass > 0:
        log_pass(w, w.previous_ns, w.next_ns, w.read_in_pass)
    w.read_in_pass = 0


def takes(w: World, now: int) -> int:
    """How many frames are read now: those that stand in the FIFO, or one of them."""
    standing = 0
    for f in range(w.fill):
        if w.fifo[f].accepted_ns <= now:
            standing += 1
    if w.rx.read == ONE and w.rx.interrupt == 0:
        return min(1, standing)
    return standing


def read(w: World, count: int, now: int) -> int:
    """Read frames; how long that takes, ns. `newest` throws away all but each stream's last."""
    reading_ns = 0
    for f in range(count):
        is_stale = False
        if w.rx.read == NEWEST:
            for g in range(f + 1, count):
                is_stale |= w.fifo[g].stream == w.fifo[f].stream
        log_read(w, w.fifo[f], now, THROWN_AWAY if is_stale else READ)
        reading_ns += w.tx[w.fifo[f].stream].reading_ns
    if count > 0:
        w.fill -= count
        for f in range(w.fill):
            copy_frame(w.fifo[f], w.fifo[f + count])
    return reading_ns


def commit(w: World) -> None:
    """The passes until the one that was coming are over."""
    if w.coming_next_ns != w.next_ns:
        log_pass_under_way(w)
        w.before_ns = w.coming_before_ns
        w.previous_ns = w.coming_previous_ns
        w.next_ns = w.coming_next_ns


def on_pass(w: World, now: int) -> None:
    """A pass starts, and reads (rule E1)."""
    clear_due(w, pass_slot(w.n))
    commit(w)
    start_ns = w.next_ns
    taken = takes(w, now)
    reading_ns = read(w, taken, now)
    w.next_ns += pass_length(w.rx, w.base_ns, w.previous_ns, start_ns, reading_ns)
    w.before_ns, w.previous_ns = w.previous_ns, start_ns
    if taken > 0:
        log_pass(w, start_ns, w.next_ns, taken)
    set_turn(w, now)


def on_interrupt(w: World, now: int) -> None:
    """An interrupt reads, and stretches the pass under way (rule E2)."""
    clear_due(w, read_slot(w.n))
    commit(w)
    taken = takes(w, now)
    w.next_ns += read(w, taken, now)
    w.read_in_pass += taken
    set_turn(w, now)


def start_receiver_program(w: World, now: int) -> None:
    """The program has booted; its first pass is due now."""
    w.running, w.paused = 1, 0
    w.base_ns = w.next_ns = now
    w.before_ns = w.previous_ns = now - 1
    w.paused_ns = w.resumed_ns = now
    set_turn(w, now)


def stop_receiver_program(w: World) -> None:
    """Reset or power cut; a pass under way that read frames goes into the trace."""
    clear_turn(w)
    log_pass_under_way(w)
    w.running = w.paused = 0


def pause_receiver_program(w: World, now: int) -> None:
    """The program stands still (rule E3, hang)."""
    clear_turn(w)
    log_pass_under_way(w)
    w.paused, w.paused_ns, w.resumed_ns = 1, now, FOREVER_NS
    w.before_ns, w.previous_ns, w.next_ns = upcoming(w, now)


def resume_receiver_program(w: World, now: int) -> None:
    """It goes on: all that was to come is later by the time it stood."""
    w.paused, w.resumed_ns = 0, now
    w.next_ns += now - w.paused_ns
    set_turn(w, now)
