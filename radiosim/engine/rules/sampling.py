"""When a transmitter's program samples, and when it is free to go on (rules A1 to A4).

`tx` is a transmitter of the plan; `base_ns` the instant at which its program last started.
"""

from radiosim.chance import JITTER, WORD, branched, philox4x32, whole_below
from radiosim.engine.plan_rows import Tx
from radiosim.engine.rules.grid import grid_point, points_until, scaled
from radiosim.marks import rule

TIMER, ELAPSED, AFTER_SEND = range(3)


@rule
def jitter_of(tx: Tx, frame: int) -> int:
    """Lateness of one sample, ns: uniform in 0…jitter, drawn by frame number (rule A1)."""
    if tx.jitter_ns == 0:
        return 0
    what = branched(JITTER, tx.branch)
    word = philox4x32(frame & WORD, frame >> 32, 0, what, tx.key_low, tx.key_high)[0]
    return whole_below(word, tx.jitter_ns + 1)


@rule
def busy_until(tx: Tx, base_ns: int, at_ns: int, interrupts_off_only: bool) -> int:
    """First instant at or after `at_ns` at which no work blocks the loop (rule A4).

    With `interrupts_off_only`, only work that also holds interrupts back counts.
    """
    free_ns = at_ns
    moved = True
    while moved:
        moved = False
        for j in range(tx.works):
            work = tx.work[j]
            if interrupts_off_only and work.interrupts_off == 0:
                continue
            since_ns = free_ns - base_ns - work.offset_ns
            points = points_until(since_ns, work.every_ns, tx.ppb)
            if points == 0:
                continue
            began_ns = grid_point(points - 1, work.every_ns, tx.ppb)
            if since_ns < began_ns + work.takes_ns:
                free_ns += began_ns + work.takes_ns - since_ns
                moved = True
    return free_ns


@rule
def tick_at(tx: Tx, base_ns: int, n: int, frame: int) -> int:
    """Instant of the n-th timer sample since the program started, to be frame `frame` (A1)."""
    at_ns = base_ns + tx.offset_ns + grid_point(n, tx.period_ns, tx.ppb) + jitter_of(tx, frame)
    return busy_until(tx, base_ns, at_ns, True)


@rule
def next_tick(tx: Tx, base_ns: int, n: int, frame: int, after_ns: int) -> tuple[int, int]:
    """The first tick from the n-th on that comes later than `after_ns`: (n, instant).

    Ticks that an interrupts-off span piles up at one instant are one sample: a timer's flag
    remembers only one.
    """
    at_ns = tick_at(tx, base_ns, n, frame)
    if at_ns > after_ns:
        return n, at_ns
    late_ns = tx.jitter_ns
    for j in range(tx.works):
        late_ns += tx.work[j].takes_ns
    since_ns = after_ns - base_ns - tx.offset_ns
    n = max(n, points_until(since_ns - late_ns, tx.period_ns, tx.ppb))
    at_ns = tick_at(tx, base_ns, n, frame)
    while at_ns <= after_ns:
        n += 1
        at_ns = tick_at(tx, base_ns, n, frame)
    return n, at_ns


@rule
def turn_at(tx: Tx, base_ns: int, last_ns: int, free_ns: int) -> int:
    """Next sample of a loop that checks elapsed time (rule A2).

    The loop turned at `last_ns` (its last sample) and was held up until `free_ns`; from there
    it turns every `loop_ns`. The first turn at which a period has passed samples.
    """
    due_ns = last_ns + scaled(tx.period_ns, tx.ppb)
    turns = max(1, -((free_ns - due_ns) // tx.loop_ns))
    return busy_until(tx, base_ns, free_ns + turns * tx.loop_ns, False)


@rule
def pause_until(tx: Tx, base_ns: int, done_ns: int, frame: int) -> int:
    """Next sample of a program that pauses after each send (rule A3)."""
    at_ns = done_ns + scaled(tx.period_ns, tx.ppb) + jitter_of(tx, frame)
    return busy_until(tx, base_ns, at_ns, False)


@rule
def first_sample_at(tx: Tx, base_ns: int, frame: int) -> int:
    """First sample of a program that started at `base_ns` and is not on a timer."""
    late_ns = jitter_of(tx, frame) if tx.pacing == AFTER_SEND else 0
    return busy_until(tx, base_ns, base_ns + tx.offset_ns + late_ns, False)
