"""When a transmitter's program samples."""

from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from radiosim.engine.plan import make_plan
from radiosim.engine.plan_rows import Tx, Work
from radiosim.engine.rules.grid import grid_point, scaled
from radiosim.engine.rules.sampling import (
    AFTER_SEND,
    ELAPSED,
    busy_until,
    first_sample_at,
    jitter_of,
    next_tick,
    pause_until,
    tick_at,
    turn_at,
)
from tests.traces import scenario_with

TX = make_plan(scenario_with(), 0).tx[0]

works = st.builds(
    Work,
    offset_ns=st.integers(0, 100),
    every_ns=st.integers(60, 200),
    takes_ns=st.integers(1, 25),
    interrupts_off=st.integers(0, 1),
)
transmitters = st.builds(
    lambda spans, ppb, jitter_ns: TX._replace(
        period_ns=50,
        offset_ns=7,
        loop_ns=6,
        ppb=ppb,
        jitter_ns=jitter_ns,
        works=len(spans),
        work=tuple(spans),
    ),
    st.lists(works, max_size=2),
    st.sampled_from([0, 60_000, -100_000_000, 100_000_000]),
    st.sampled_from([0, 0, 30, 49]),
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

    late = [tick_at(tx, 0, n, n) - n * tx.period_ns for n in range(200)]

    assert all(0 <= lateness <= 5_000_000 for lateness in late)


def test_the_first_tick_stands_on_the_offset() -> None:
    assert tick_at(TX._replace(offset_ns=700), 100, 0, 0) == 800


@given(transmitters, st.integers(0, 20), st.integers(0, 50), st.integers(-1, 3_000))
def test_the_next_tick_is_the_first_one_later(tx: Tx, n: int, frame: int, after_ns: int) -> None:
    # The instant after which a tick is looked for is one at which an interrupt can come.
    after_ns = busy_until(tx, 0, max(after_ns, 0), True)
    k = n
    while tick_at(tx, 0, k, frame) <= after_ns:
        k += 1

    assert next_tick(tx, 0, n, frame, after_ns) == (k, tick_at(tx, 0, k, frame))


@given(transmitters)
def test_ticks_go_up(tx: Tx) -> None:
    n, at_ns, seen = 0, -1, []
    for frame in range(40):
        n, at_ns = next_tick(tx, 0, n, frame, at_ns)
        seen.append((n, at_ns))
        n += 1

    assert all(a[0] < b[0] and a[1] < b[1] for a, b in pairwise(seen))


def test_ticks_piled_up_by_held_interrupts_are_one_sample() -> None:
    tx = TX._replace(period_ns=10, offset_ns=0, ppb=0, works=1, work=(Work(9, 1_000, 25, 1),))

    n, first_ns = next_tick(tx, 0, 1, 1, 0)
    again, second_ns = next_tick(tx, 0, n + 1, 2, first_ns)

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
