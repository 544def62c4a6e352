"""Instants on a grid that a clock with an error keeps."""

from fractions import Fraction
from itertools import pairwise
from math import floor

import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.chance import ONE_53, whole_up_to
from radiosim.engine.plan import make_plan
from radiosim.engine.plan_rows import Rx, Tx, Work
from radiosim.engine.rules.timing import (
    AFTER_SEND,
    BILLION,
    ELAPSED,
    busy_until,
    dither_of,
    first_sample_at,
    grid_point,
    interrupts_off_due,
    jitter_of,
    next_tick,
    pass_from,
    pass_length,
    pause_until,
    point_after,
    points_until,
    scaled,
    tick_at,
    turn_at,
    work_due,
    work_ns,
)
from tests.traces import scenario_with

errors_ppb = st.integers(-100_000_000, 100_000_000)
periods_ns = st.integers(1_000, 2_000_000_000)


@given(st.integers(0, 10**15), errors_ppb)
def test_a_span_is_scaled_to_the_nearest_nanosecond(nominal_ns: int, ppb: int) -> None:
    exact = nominal_ns * (1 + Fraction(ppb, BILLION))

    assert scaled(nominal_ns, ppb) == floor(exact + Fraction(1, 2))


def test_no_product_passes_63_bits_in_a_day() -> None:
    day_ns = 86_400 * BILLION

    assert scaled(day_ns, 60_000) == day_ns + 5_184_000_000
    assert (day_ns // BILLION) * 100_000_000 < 2**63
    assert (BILLION - 1) * 100_000_000 + BILLION // 2 < 2**63


def test_an_exact_clock_changes_nothing() -> None:
    assert scaled(123_456_789, 0) == 123_456_789


@given(st.integers(0, 10**6), periods_ns, errors_ppb)
def test_a_grid_is_rounded_once_not_step_by_step(k: int, every_ns: int, ppb: int) -> None:
    exact = k * every_ns * (1 + Fraction(ppb, BILLION))

    assert abs(grid_point(k, every_ns, ppb) - exact) <= Fraction(1, 2)


@given(st.integers(-5_000, 100_000), st.integers(1_000, 20_000), errors_ppb)
def test_points_are_counted_with_both_ends(span_ns: int, every_ns: int, ppb: int) -> None:
    points = [grid_point(k, every_ns, ppb) for k in range(150)]

    assert points_until(span_ns, every_ns, ppb) == sum(point <= span_ns for point in points)


@given(st.integers(0, 200_000), periods_ns, errors_ppb)
def test_a_point_counts_from_its_own_instant_on(k: int, every_ns: int, ppb: int) -> None:
    at_ns = grid_point(k, every_ns, ppb)

    assert points_until(at_ns, every_ns, ppb) == k + 1
    assert points_until(at_ns - 1, every_ns, ppb) == k


@given(st.integers(-5_000, 10**12), periods_ns, errors_ppb)
def test_the_point_after_is_the_first_later_one(span_ns: int, every_ns: int, ppb: int) -> None:
    after_ns = point_after(span_ns, every_ns, ppb)

    assert after_ns > span_ns
    assert points_until(after_ns, every_ns, ppb) == points_until(span_ns, every_ns, ppb) + 1


RX = make_plan(scenario_with(), 0).rx
PASS_NS = 10


def steady(offset_ns: int, every_ns: int, takes_ns: int, interrupts_off: int) -> Work:
    """Work that takes as long each time."""
    return Work(offset_ns, every_ns, takes_ns, interrupts_off, longest_ns=takes_ns)


works = st.builds(
    steady,
    offset_ns=st.integers(0, 60),
    every_ns=st.integers(15, 90),
    takes_ns=st.integers(1, 14),
    interrupts_off=st.integers(0, 1),
)
receivers = st.builds(
    lambda spans, ppb: RX._replace(pass_ns=PASS_NS, ppb=ppb, works=len(spans), work=tuple(spans)),
    st.lists(works, max_size=2),
    st.sampled_from([0, 0, 40_000_000, -100_000_000]),
)


def due(work: Work, ppb: int, base_ns: int, after_ns: int, until_ns: int) -> bool:
    """Whether a work falls due in (after, until], point by point."""
    points = (base_ns + work.offset_ns + grid_point(k, work.every_ns, ppb) for k in range(200))
    return any(after_ns < point <= until_ns for point in points)


def passes(rx: Rx, base_ns: int, count: int) -> list[int]:
    """Starts of idle passes from a program's start, one after the other."""
    previous_ns, next_ns, starts = base_ns - 1, base_ns, []
    for _ in range(count):
        starts.append(next_ns)
        takes = (w.takes_ns for w in rx.work if due(w, rx.ppb, base_ns, previous_ns, next_ns))
        previous_ns, next_ns = next_ns, next_ns + rx.pass_ns + sum(takes)
    return starts


@given(receivers, st.integers(0, 1_000), st.integers(0, 800))
def test_a_jump_lands_where_single_passes_do(rx: Rx, base_ns: int, wait_ns: int) -> None:
    starts = [base_ns - 1, *passes(rx, base_ns, 100)]
    at_ns = base_ns + wait_ns
    index = next(i for i, start in enumerate(starts) if start >= at_ns)

    before_ns, previous_ns, next_ns = pass_from(rx, base_ns, base_ns - 1, base_ns, at_ns)

    assert (previous_ns, next_ns) == (starts[index - 1], starts[index])
    if index >= 2:
        assert before_ns == starts[index - 2]


@given(receivers, st.integers(0, 400), st.integers(0, 400))
def test_two_jumps_are_one(rx: Rx, first_ns: int, second_ns: int) -> None:
    at_ns = first_ns + second_ns
    _, previous_ns, next_ns = pass_from(rx, 0, -1, 0, first_ns)

    assert pass_from(rx, 0, previous_ns, next_ns, at_ns)[1:] == pass_from(rx, 0, -1, 0, at_ns)[1:]


def test_a_pass_that_is_not_over_stays() -> None:
    assert pass_from(RX, 0, 0, 1_000_000, 1_000_000)[1:] == (0, 1_000_000)


def test_work_due_as_the_program_starts_is_done_in_the_first_pass() -> None:
    rx = RX._replace(pass_ns=10, works=1, work=(Work(0, 100, 7, 0, 7),))

    assert pass_length(rx, 50, 49, 50, 0) == 17
    assert pass_length(rx, 50, 50, 67, 0) == 10


def test_work_that_fell_due_twice_is_done_once() -> None:
    rx = RX._replace(pass_ns=10, works=1, work=(Work(0, 20, 7, 0, 7),))

    assert work_due(rx, 0, 5, 95) == 7


def test_work_of_random_length_that_fell_due_twice_lasts_as_long_as_its_last_turn() -> None:
    """Due at 20, 40, 60 and 80: the turns 1 to 4."""
    drawn = Work(0, 20, 1, 1, 1_000_000)._replace(stretched_53=ONE_53)
    rx = RX._replace(pass_ns=10, works=1, work=(drawn,))
    lengths_ns = [work_ns(drawn, 0, turn) for turn in range(5)]

    assert len(set(lengths_ns)) == 5
    assert work_due(rx, 0, 5, 95) == interrupts_off_due(rx, 0, 5, 95) == lengths_ns[4]


def test_reads_stretch_their_pass() -> None:
    assert pass_length(RX, 0, 0, 1_000_000, 28_000) == 1_028_000


def test_only_work_that_says_so_holds_interrupts_off() -> None:
    rx = RX._replace(works=2, work=(Work(0, 20, 7, 0, 7), Work(0, 20, 3, 1, 3)))

    assert work_due(rx, 0, -1, 0) == 10
    assert interrupts_off_due(rx, 0, -1, 0) == 3


TX = make_plan(scenario_with(), 0).tx[0]

works_of_sampling = st.builds(
    steady,
    offset_ns=st.integers(0, 100),
    every_ns=st.integers(60, 200),
    takes_ns=st.integers(1, 25),
    interrupts_off=st.integers(0, 1),
)
transmitters = st.builds(
    lambda spans, ppb, late: TX._replace(
        period_ns=50,
        offset_ns=7,
        loop_ns=6,
        ppb=ppb,
        jitter_ns=late[0],
        dither_ns=late[1],
        works=len(spans),
        work=tuple(spans),
    ),
    st.lists(works_of_sampling, max_size=2),
    st.sampled_from([0, 60_000, -100_000_000, 100_000_000]),
    st.sampled_from([(0, 0), (0, 0), (30, 0), (49, 0), (0, 49), (30, 12)]),
)


def is_blocked(tx: Tx, base_ns: int, at_ns: int, off_only: bool) -> bool:
    """Whether work blocks the loop at an instant, span by span."""
    for work in tx.work:
        if off_only and not work.interrupts_off:
            continue
        for k in range(100):
            began_ns = base_ns + work.offset_ns + grid_point(k, work.every_ns, tx.ppb)
            if began_ns <= at_ns < began_ns + work.takes_ns:
                return True
    return False


@given(transmitters, st.integers(0, 500), st.integers(0, 2_000), st.booleans())
def test_a_loop_is_free_at_the_first_unblocked_nanosecond(
    tx: Tx, base_ns: int, wait_ns: int, off_only: bool
) -> None:
    at_ns = base_ns + wait_ns
    free_ns = at_ns
    while is_blocked(tx, base_ns, free_ns, off_only):
        free_ns += 1

    assert busy_until(tx, base_ns, at_ns, off_only) == free_ns


@given(transmitters, st.integers(0, 1_000), st.integers(0, 10**6))
def test_jitter_is_late_only_and_within_its_limit(tx: Tx, n: int, frame: int) -> None:
    assert 0 <= jitter_of(tx, frame) <= tx.jitter_ns
    assert jitter_of(tx, frame) == jitter_of(tx._replace(period_ns=99 + n), frame)


def test_jitter_reaches_both_its_ends() -> None:
    tx = TX._replace(jitter_ns=3)

    assert {jitter_of(tx, frame) for frame in range(100)} == {0, 1, 2, 3}


def test_jitter_does_not_add_up() -> None:
    tx = TX._replace(jitter_ns=5_000_000, ppb=0, offset_ns=0)

    late = [tick_at(tx, 0, n, 0, n) - n * tx.period_ns for n in range(200)]

    assert all(0 <= lateness <= 5_000_000 for lateness in late)


def test_dither_reaches_both_its_ends_and_is_drawn_afresh_after_a_boot() -> None:
    tx = TX._replace(dither_ns=2)

    drawn = [dither_of(tx, 0, n) for n in range(200)]

    assert set(drawn) == {-2, -1, 0, 1, 2}
    assert drawn != [dither_of(tx, 1, n) for n in range(200)]


@pytest.mark.parametrize("most", [0, 1, 2**31 - 1, 2**31, 10**14, 2**61])
def test_draws_of_any_length_reach_their_ends_and_no_further(most: int) -> None:
    """Spans of a day and more: no product passes 63 bits, and the ends are those of exact
    arithmetic."""
    assert whole_up_to(0, most) == 0
    assert most - (most >> 30) - 1 <= whole_up_to(2**32 - 1, most) <= most
    assert abs(whole_up_to(2**31, most) - most // 2) <= 1


def test_the_first_tick_stands_on_the_offset() -> None:
    assert tick_at(TX._replace(offset_ns=700), 100, 0, 0, 0) == 800


@given(transmitters, st.integers(0, 20), st.integers(0, 50), st.integers(-1, 3_000))
def test_the_next_tick_is_the_first_one_later(tx: Tx, n: int, frame: int, after_ns: int) -> None:
    # The instant after which a tick is looked for is one at which an interrupt can come.
    after_ns = busy_until(tx, 0, max(after_ns, 0), True)
    k, walked_ns = n, sum(dither_of(tx, 0, earlier) for earlier in range(n))
    found = next_tick(tx, 0, n, walked_ns, frame, after_ns)
    while tick_at(tx, 0, k, walked_ns, frame) <= after_ns:
        walked_ns += dither_of(tx, 0, k)
        k += 1

    assert found == (k, walked_ns, tick_at(tx, 0, k, walked_ns, frame))


@given(transmitters)
def test_ticks_go_up(tx: Tx) -> None:
    n, walked_ns, at_ns, seen = 0, 0, -1, []
    for frame in range(40):
        n, walked_ns, at_ns = next_tick(tx, 0, n, walked_ns, frame, at_ns)
        seen.append((n, at_ns))
        walked_ns += dither_of(tx, 0, n)
        n += 1

    assert all(a[0] < b[0] and a[1] < b[1] for a, b in pairwise(seen))


def test_ticks_piled_up_by_held_interrupts_are_one_sample() -> None:
    tx = TX._replace(period_ns=10, offset_ns=0, ppb=0, works=1, work=(Work(9, 1_000, 25, 1, 25),))

    n, _, first_ns = next_tick(tx, 0, 1, 0, 1, 0)
    again, _, second_ns = next_tick(tx, 0, n + 1, 0, 2, first_ns)

    assert (n, first_ns) == (1, 34)
    assert (again, second_ns) == (4, 40)


@given(transmitters, st.integers(0, 500), st.integers(0, 200))
def test_an_elapsed_loop_samples_at_the_first_turn_that_is_due(
    tx: Tx, last_ns: int, held_ns: int
) -> None:
    free_ns = last_ns + held_ns
    turn_ns = free_ns + tx.loop_ns
    while turn_ns - last_ns < scaled(tx.period_ns, tx.ppb):
        turn_ns += tx.loop_ns

    assert turn_at(tx, 0, last_ns, free_ns) == busy_until(tx, 0, turn_ns, False)


def test_an_elapsed_loop_adds_its_lateness_up() -> None:
    tx = TX._replace(period_ns=100, loop_ns=30, ppb=0)
    at_ns = 0
    for _ in range(10):
        at_ns = turn_at(tx, 0, at_ns, at_ns)

    assert at_ns == 10 * 120


def test_a_pause_is_kept_by_the_transmitters_clock() -> None:
    tx = TX._replace(pacing=AFTER_SEND, period_ns=1_000_000, ppb=60_000)

    assert pause_until(tx, 0, 500, 3) == 500 + 1_000_060


def test_jitter_delays_the_first_sample_of_a_pausing_program_alone() -> None:
    pausing = TX._replace(pacing=AFTER_SEND, offset_ns=100, jitter_ns=50)
    elapsed = pausing._replace(pacing=ELAPSED)

    assert first_sample_at(pausing, 1_000, 4) == 1_100 + jitter_of(pausing, 4)
    assert first_sample_at(elapsed, 1_000, 4) == 1_100
