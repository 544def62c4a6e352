"""The failsafe timer of one stream."""

import itertools
from fractions import Fraction
from itertools import takewhile
from math import floor
from typing import Any

import msgspec
from hypothesis import given
from hypothesis import strategies as st

from radiosim.engine.jit import blank
from radiosim.engine.plan import make_plan
from radiosim.vehicle.fold.program_state import (
    TimerState,
    arrives,
    is_read,
    may_resume,
    over_at,
    start_timer,
)
from radiosim.vehicle.program_fold import COUNTS, timer_of
from tests.traces import scenario_with


def ticks_shown(at_ns: int, tick_ns: int, ppb: int) -> int:
    """Steps that a clock shows which started at 0; each ends at the nearest ns (rule T1)."""
    first = max(0, at_ns * 10**9 // (tick_ns * (10**9 + ppb)) - 1)
    steps = (
        floor(Fraction(k * tick_ns * (10**9 + ppb), 10**9) + Fraction(1, 2))
        for k in itertools.count(first + 1)
    )
    return first + sum(1 for _ in takewhile(lambda step_ns: step_ns <= at_ns, steps))


@given(
    since_ns=st.integers(0, 10**10),
    tick_ns=st.sampled_from([1_000_000, 125_000, 4_096_000, 10_000_000]),
    timeout_ms=st.sampled_from([100, 250, 7.5, 12]),
    ppb=st.sampled_from([0, 20_000_000, -60_000]),
    started_ns=st.integers(0, 10**9),
)
def test_a_clock_in_steps_trips_when_a_difference_of_its_readings_is_past_the_timeout(
    since_ns: int, tick_ns: int, timeout_ms: float, ppb: int, started_ns: int
) -> None:
    """`now - last > TIMEOUT` in whole numbers, as receivers' programs have it (common practice)."""
    watch = timer(
        f"receiver.clock_tick_ms={tick_ns / 1e6}",
        f"failsafe.drive.timeout_ms={timeout_ms}",
        ppb=ppb,
    )
    start_timer(watch, started_ns)

    def is_over(now_ns: int) -> bool:
        readings = [ticks_shown(at_ns, tick_ns, ppb) for at_ns in (now_ns, since_ns)]
        return (readings[0] - readings[1]) * tick_ns > timeout_ms * 1e6

    over_ns = over_at(watch, started_ns + since_ns) - started_ns
    assert is_over(over_ns)
    assert not is_over(over_ns - 1)
    # Never before the whole steps in the timeout are over, and at most one step after them.
    whole_ns = timeout_ms * 1e6 // tick_ns * tick_ns * (1 + ppb / 1e9)
    assert whole_ns - 1 < over_ns - since_ns < whole_ns + tick_ns * (1 + ppb / 1e9) + 1


def timer(*overrides: str, ppb: int = 0) -> Any:
    """The timer of the first stream, as a plain object, started at 0."""
    plan = make_plan(scenario_with(*overrides), 0)
    described = scenario_with(*overrides).failsafe["drive"]
    slow = msgspec.structs.replace(plan, rx=plan.rx._replace(ppb=ppb))
    watch = blank(TimerState, COUNTS)
    vars(watch).update(timer_of(slow, 0, described))
    start_timer(watch, 0)
    return watch


def test_the_timeout_is_counted_by_the_receivers_clock() -> None:
    assert timer(ppb=20_000_000).timeout_ns == 102_000_000
    assert timer(ppb=-60_000).timeout_ns == 99_994_000


def test_it_starts_on_and_fed() -> None:
    watch = timer()
    start_timer(watch, 500)

    assert watch.is_on
    assert watch.fed_ns == 500


def test_another_streams_frame_counts_only_with_any() -> None:
    own, anyones = timer(), timer("failsafe.drive.fed_by='any'")

    assert not is_read(own, 1, 700, 0)
    assert own.fed_ns == 0
    assert is_read(anyones, 1, 700, 0)
    assert anyones.fed_ns == 700


def test_any_takes_another_streams_frame_even_when_a_field_is_watched() -> None:
    watch = timer("failsafe.drive.fed_by='any'", "failsafe.drive.watch_field='count'")

    assert is_read(watch, 0, 10, 0)
    assert not is_read(watch, 0, 20, 0)
    is_read(watch, 1, 30, 0)
    assert watch.fed_ns == 30


def test_fed_at_arrival_it_is_not_fed_by_reading() -> None:
    watch = timer("failsafe.drive.fed_at='arrival'")
    arrives(watch, 0, 300, 0)
    is_read(watch, 0, 900, 0)

    assert watch.fed_ns == 300


def test_fed_at_reading_it_is_not_fed_by_arrival() -> None:
    watch = timer()
    arrives(watch, 0, 300, 0)

    assert watch.fed_ns == 0


def test_an_arrival_with_an_unchanged_watched_field_feeds_nothing() -> None:
    watch = timer("failsafe.drive.fed_at='arrival'", "failsafe.drive.watch_field='count'")
    for at_ns, count in ((10, 4), (20, 4), (30, 5), (40, 5)):
        arrives(watch, 0, at_ns, count)

    assert watch.fed_ns == 30


def test_a_counter_that_wraps_round_is_still_a_change() -> None:
    watch = timer("failsafe.drive.watch_field='count'")
    is_read(watch, 0, 10, 255)
    is_read(watch, 0, 20, 0)

    assert watch.fed_ns == 20


def test_resuming_without_a_needed_field_is_always_allowed() -> None:
    assert may_resume(timer(), False, 0.0)


def test_resuming_needs_a_value_near_neutral_the_limit_included() -> None:
    watch = timer("failsafe.drive.resume_needs={field='throttle', within=0.5}")

    allowed = [may_resume(watch, True, throttle) for throttle in (0.0, 1.0, -0.5, 0.25)]

    assert allowed == [True, False, True, True]
    assert not may_resume(watch, False, 0.0)


@given(st.lists(st.integers(0, 150), min_size=1, max_size=30), st.integers(1, 4))
def test_it_clears_after_enough_frames_each_within_the_timeout(
    gaps_ms: list[int], needed: int
) -> None:
    watch = timer(f"failsafe.drive.resume_frames={needed}")
    now, row = 0, 0

    for gap_ms in gaps_ms:
        now += gap_ms * 1_000_000
        row = row + 1 if gap_ms <= 100 else 1
        assert is_read(watch, 0, now, 0) == (row >= needed)
