"""The failsafe timer of one stream."""

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
    start_timer,
)
from radiosim.vehicle.program_fold import COUNTS, timer_of
from tests.traces import scenario_with


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
