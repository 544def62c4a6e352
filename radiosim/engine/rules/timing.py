"""Rules of time: clock grids, sampling, passes (rules T, A and E1).

`tx` is a transmitter of the plan; `base_ns` the instant at which its program last started.

A pass that reads nothing leaves no trace: it follows from the one before by arithmetic.
`previous_ns` is the start of the pass before the one at `next_ns`.
"""

from radiosim.chance import (
    DITHER,
    JITTER,
    WORD,
    WORK,
    branched,
    fraction_53,
    philox4x32,
    whole_up_to,
)
from radiosim.engine.plan_rows import Drift, Rx, Tx, Work
from radiosim.engine.rules.drift import late_by
from radiosim.marks import rule

BILLION = 1_000_000_000


@rule
def scaled(nominal_ns: int, ppb: int) -> int:
    """A span as a clock with an error of `ppb` parts in 10⁹ makes it, nearest ns (rule T1).

    Split so that no product passes 63 bits.
    """
    whole = nominal_ns // BILLION
    rest = nominal_ns - whole * BILLION
    return nominal_ns + whole * ppb + (rest * ppb + BILLION // 2) // BILLION


@rule
def grid_point(k: int, every_ns: int, ppb: int) -> int:
    """The k-th point of a grid, ns from its start: rounded once, not step by step."""
    return scaled(k * every_ns, ppb)


@rule
def points_until(span_ns: int, every_ns: int, ppb: int) -> int:
    """How many points of a grid lie in 0…`span_ns`, both ends included; 0 before it starts."""
    if span_ns < 0:
        return 0
    # About so many: floats divide sooner than whole numbers, and what it is off is mended.
    k = int(span_ns / (every_ns * (1.0 + ppb * 1e-9)))
    while grid_point(k, every_ns, ppb) > span_ns:
        k -= 1
    while grid_point(k + 1, every_ns, ppb) <= span_ns:
        k += 1
    return k + 1


@rule
def point_after(span_ns: int, every_ns: int, ppb: int) -> int:
    """The first point of a grid later than `span_ns`, ns from its start."""
    return grid_point(points_until(span_ns, every_ns, ppb), every_ns, ppb)


@rule
def drifting_point(k: int, every_ns: int, ppb: int, drift: Drift, since_ns: int) -> int:
    """`grid_point` of a grid that begins at an instant, on a clock that drifts (rule T7)."""
    span_ns = grid_point(k, every_ns, ppb)
    return span_ns + late_by(drift, since_ns, span_ns)


@rule
def drifting_until(span_ns: int, every_ns: int, ppb: int, drift: Drift, since_ns: int) -> int:
    """`points_until` of a grid that begins at an instant, on a clock that drifts."""
    if drift.drifts == 0 or span_ns < 0:
        return points_until(span_ns, every_ns, ppb)
    k = max(0, points_until(span_ns - late_by(drift, since_ns, span_ns), every_ns, ppb) - 1)
    while drifting_point(k, every_ns, ppb, drift, since_ns) > span_ns:
        k -= 1
    while drifting_point(k + 1, every_ns, ppb, drift, since_ns) <= span_ns:
        k += 1
    return k + 1


@rule
def drifting_after(span_ns: int, every_ns: int, ppb: int, drift: Drift, since_ns: int) -> int:
    """`point_after` of a grid that begins at an instant, on a clock that drifts."""
    k = drifting_until(span_ns, every_ns, ppb, drift, since_ns)
    return drifting_point(k, every_ns, ppb, drift, since_ns)


TIMER, ELAPSED, AFTER_SEND = range(3)


@rule
def jitter_of(tx: Tx, frame: int) -> int:
    """Lateness of one sample, ns: uniform in 0…jitter, drawn by frame number (rule A1)."""
    if tx.jitter_ns == 0:
        return 0
    what = branched(JITTER, tx.branch)
    word = philox4x32(frame & WORD, frame >> 32, 0, what, tx.key_low, tx.key_high)[0]
    return whole_up_to(word, tx.jitter_ns)


@rule
def dither_of(tx: Tx, base_ns: int, n: int) -> int:
    """By how much the n-th period since the program started is longer, ns (rule J0).

    Uniform in ±dither, by the transmitter's own clock, which is not in it yet.
    """
    if tx.dither_ns == 0:
        return 0
    what = branched(DITHER, tx.branch)
    word = philox4x32(n & WORD, n >> 32, base_ns & WORD, what, tx.key_low, tx.key_high)[0]
    return whole_up_to(word, 2 * tx.dither_ns) - tx.dither_ns


@rule
def work_ns(work: Work, base_ns: int, turn: int) -> int:
    """How long one turn of a work takes: as a rule the same, else drawn (rule A4).

    `turn`: its point on the grid of the program that started at `base_ns`.
    """
    if work.stretched_53 == 0:
        return work.takes_ns
    a, b, c, _ = philox4x32(
        turn & WORD, turn >> 32, base_ns & WORD, WORK, work.key_low, work.key_high
    )
    if fraction_53(a, b) >= work.stretched_53:
        return work.takes_ns
    return work.takes_ns + whole_up_to(c, work.longest_ns - work.takes_ns)


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
            first_ns = base_ns + work.offset_ns
            since_ns = free_ns - first_ns
            points = drifting_until(since_ns, work.every_ns, tx.ppb, tx.drift, first_ns)
            if points == 0:
                continue
            began_ns = drifting_point(points - 1, work.every_ns, tx.ppb, tx.drift, first_ns)
            if since_ns >= began_ns + work.longest_ns:
                continue
            over_ns = began_ns + work_ns(work, base_ns, points - 1)
            if since_ns < over_ns:
                free_ns += over_ns - since_ns
                moved = True
    return free_ns


@rule
def tick_at(tx: Tx, base_ns: int, n: int, dithered_ns: int, frame: int) -> int:
    """Instant of the n-th timer sample since the program started, to be frame `frame` (A1).

    `dithered_ns`: by how much all periods before it together were longer (J0).
    """
    first_ns = base_ns + tx.offset_ns
    span_ns = scaled(n * tx.period_ns + dithered_ns, tx.ppb)
    at_ns = first_ns + span_ns + late_by(tx.drift, first_ns, span_ns)
    return busy_until(tx, base_ns, at_ns + jitter_of(tx, frame), True)


@rule
def next_tick(
    tx: Tx, base_ns: int, n: int, dithered_ns: int, frame: int, after_ns: int
) -> tuple[int, int, int]:
    """The first tick from the n-th on that comes later than `after_ns`: (n, what all periods
    before it were longer by, instant).

    Ticks that an interrupts-off span piles up at one instant are one sample: a timer's flag
    remembers only one.
    """
    at_ns = tick_at(tx, base_ns, n, dithered_ns, frame)
    if at_ns > after_ns:
        return n, dithered_ns, at_ns
    if tx.dither_ns > 0:
        while at_ns <= after_ns:
            dithered_ns += dither_of(tx, base_ns, n)
            n += 1
            at_ns = tick_at(tx, base_ns, n, dithered_ns, frame)
        return n, dithered_ns, at_ns
    late_ns = tx.jitter_ns
    for j in range(tx.works):
        late_ns += tx.work[j].longest_ns
    first_ns = base_ns + tx.offset_ns
    since_ns = after_ns - first_ns - late_ns
    n = max(n, drifting_until(since_ns, tx.period_ns, tx.ppb, tx.drift, first_ns))
    at_ns = tick_at(tx, base_ns, n, 0, frame)
    while at_ns <= after_ns:
        n += 1
        at_ns = tick_at(tx, base_ns, n, 0, frame)
    return n, 0, at_ns


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


@rule
def works_until(rx: Rx, work: Work, since_ns: int, at_ns: int) -> int:
    """How often work on a grid from `since_ns` fell due by an instant."""
    return drifting_until(at_ns - since_ns, work.every_ns, rx.ppb, rx.drift, since_ns)


@rule
def work_due(rx: Rx, base_ns: int, previous_ns: int, start_ns: int) -> int:
    """Time of all work that fell due after one pass and until the start of the next, ns."""
    takes_ns = 0
    for j in range(rx.works):
        work = rx.work[j]
        since_ns = base_ns + work.offset_ns
        before = works_until(rx, work, since_ns, previous_ns)
        points = works_until(rx, work, since_ns, start_ns)
        if points > before:
            takes_ns += work_ns(work, base_ns, points - 1)
    return takes_ns


@rule
def interrupts_off_due(rx: Rx, base_ns: int, previous_ns: int, start_ns: int) -> int:
    """The part of `work_due` that holds interrupts back; it comes first in a pass (E2)."""
    takes_ns = 0
    for j in range(rx.works):
        work = rx.work[j]
        if work.interrupts_off == 0:
            continue
        since_ns = base_ns + work.offset_ns
        before = works_until(rx, work, since_ns, previous_ns)
        points = works_until(rx, work, since_ns, start_ns)
        if points > before:
            takes_ns += work_ns(work, base_ns, points - 1)
    return takes_ns


@rule
def pass_length(rx: Rx, base_ns: int, previous_ns: int, start_ns: int, reading_ns: int) -> int:
    """Length of the pass at `start_ns`, ns (rule E1)."""
    if rx.works == 0:
        return rx.pass_ns + reading_ns
    return rx.pass_ns + reading_ns + work_due(rx, base_ns, previous_ns, start_ns)


@rule
def next_work_after(rx: Rx, base_ns: int, at_ns: int) -> int:
    """The first instant after `at_ns` at which work falls due, at most 2⁶² ns."""
    first_ns = 1 << 62
    for j in range(rx.works):
        work = rx.work[j]
        since_ns = base_ns + work.offset_ns
        span_ns = at_ns - since_ns
        due_ns = since_ns + drifting_after(span_ns, work.every_ns, rx.ppb, rx.drift, since_ns)
        first_ns = min(first_ns, due_ns)
    return first_ns


@rule
def pass_from(
    rx: Rx, base_ns: int, previous_ns: int, next_ns: int, at_ns: int
) -> tuple[int, int, int]:
    """The first pass at or after `at_ns`, if all until then are idle.

    Returns the starts of the two passes before it and of the pass itself, ns.
    """
    before_ns = previous_ns
    while next_ns < at_ns:
        limit_ns = at_ns
        if rx.works > 0:
            due_ns = next_work_after(rx, base_ns, previous_ns)
            if due_ns <= next_ns:
                before_ns, previous_ns = previous_ns, next_ns
                next_ns += pass_length(rx, base_ns, before_ns, previous_ns, 0)
                continue
            limit_ns = min(at_ns, due_ns)
        steps = -((next_ns - limit_ns) // rx.pass_ns)
        last_ns = next_ns + (steps - 1) * rx.pass_ns
        before_ns = last_ns - rx.pass_ns if steps > 1 else previous_ns
        previous_ns, next_ns = last_ns, last_ns + rx.pass_ns
    return before_ns, previous_ns, next_ns
