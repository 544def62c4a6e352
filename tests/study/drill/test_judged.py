"""What was asked on the command line and is not kept."""

import pytest
from msgspec.structs import replace

from radiosim.scenario.structs.receiver_table import Program
from radiosim.study.drill.drill import DrillOptions, drill_failsafe
from radiosim.study.drill.drill_kinds import drills_of, limit_of
from radiosim.study.drill.judged import figures_of, spread_of, trip_violations
from radiosim.study.drill.observed import Fate, Point
from radiosim.study.drill.results import Drilled, TradeOffPoint
from tests.study.drill.scenarios import HEAD, TIMER, only, scenario_with


def asked(more: str, *kinds: str, reaction_ms: float | None) -> Drilled:
    drill_options = DrillOptions(
        repeats=8, skip=only(*kinds), hours=0.02, workers=1, reaction_ms=reaction_ms
    )
    return drill_failsafe(scenario_with(more), drill_options)


def at_fault(silence_ns: int) -> Point:
    """The motor stops in time, counted from the last frame."""
    return Point(
        start=0,
        at_ns=0,
        fate=Fate.STOPPED,
        reaction_ns=silence_ns,
        silence_ns=silence_ns,
        stopping_ns=silence_ns,
        recovered_ns=1,
    )


@pytest.mark.parametrize(("late_ns", "verdict"), [(0, "holds"), (1, "fails")])
def test_one_reaction_past_its_bound_fails(late_ns: int, verdict: str) -> None:
    given = scenario_with(TIMER)
    (drill,) = drills_of(given, only("power_off"))[:1]
    limit = limit_of(given, drill, "motor")
    assert limit.bound.total_ns is not None

    seen = [at_fault(1_000_000), at_fault(limit.bound.total_ns + late_ns)]
    found = figures_of(given, drill, "motor", limit, seen)

    assert found.verdict == verdict
    assert ("past the bound" in found.why) == (late_ns > 0)


@pytest.mark.parametrize(
    ("late_ns", "tick_ms", "is_told"),
    [(100_000, 0.0, True), (1_000_001, 0.0, False), (100_000, 1.0, False)],
)
def test_a_program_that_counts_milliseconds_is_told_so_where_it_is_late_by_less(
    late_ns: int, tick_ms: float, is_told: bool
) -> None:
    given = scenario_with(TIMER)
    receiver = replace(given.receiver, clock_tick_ms=tick_ms, program=Program(sources=("rx.c",)))
    own = replace(given, receiver=receiver)
    (drill,) = drills_of(own, only("power_off"))[:1]
    limit = limit_of(own, drill, "motor")
    assert limit.bound.total_ns is not None
    late = [at_fault(limit.bound.total_ns + late_ns)]

    why = figures_of(own, drill, "motor", limit, late).why

    assert ("set receiver.clock_tick_ms = 1" in why) == is_told
    assert "clock_tick_ms" not in figures_of(given, drill, "motor", limit, late).why


def test_quantiles_of_reactions_are_reactions_that_were_seen() -> None:
    """Of a hundred, the lowest that so many reach."""
    found = spread_of([1_000_000 * ms for ms in range(1, 101)] + [-1])

    assert (found.median, found.p95, found.p99, found.max, found.n) == (50, 95, 99, 100, 100)


def test_a_stop_past_what_was_asked_fails_and_only_where_it_was_asked() -> None:
    [violation] = asked(TIMER, "power_off", reaction_ms=200).violations

    assert (violation.stream, violation.figure, violation.asked, violation.timeout_ms) == (
        "drive",
        "reaction_ms",
        200,
        250,
    )
    assert violation.found is not None
    assert violation.found > 250
    assert not asked(TIMER, "power_off", reaction_ms=200).ok
    assert asked(TIMER, "power_off", reaction_ms=400).ok
    assert asked(TIMER, "power_off", reaction_ms=None).ok


def test_a_stream_that_holds_as_the_scenario_says_has_no_stop_to_ask_for() -> None:
    held = HEAD.replace("{ preset_us = 1500 }", '"hold"')

    assert [
        violation.stream
        for violation in asked(TIMER + held, "power_off", reaction_ms=100).violations
    ] == ["drive"]


def test_a_stream_without_a_bound_does_not_keep_any_stop() -> None:
    found = asked(TIMER + 'fed_by = "any"\n' + HEAD, "power_off", reaction_ms=2000)
    [violation] = found.violations

    assert (violation.stream, violation.found, violation.where) == ("drive", None, "motor")
    assert "feeds its timer" in violation.why


def test_a_late_watchdog_does_not_keep_a_stop_that_the_timer_keeps() -> None:
    dog = TIMER + "[receiver]\nwatchdog_ms = 900\nboot_s = 1\n"
    [violation] = asked(dog, "power_off", "hang", reaction_ms=400).violations

    assert violation.is_drilled
    assert violation.where == "motor at hang receiver"
    assert violation.found is not None
    assert violation.found > 800
    assert asked(dog, "power_off", reaction_ms=400).violations == ()


def test_only_trips_that_are_surely_too_many_fail() -> None:
    def violated(low: float, asked: float | None) -> list[str]:
        point = TradeOffPoint(
            timeout_ms=250,
            nuisance_trips=9,
            nuisance_per_hour=2.0,
            nuisance_per_hour_ci95=(low, 4.0),
            alive_share=1.0,
            worst_reaction_ms=275,
        )
        return [
            trip_violation.figure
            for trip_violation in trip_violations(asked, {"drive": 250}, {"drive": (point,)})
        ]

    assert violated(1.5, 1) == ["nuisance_per_hour"]
    assert violated(0.5, 1) == []
    assert violated(1.5, None) == []
