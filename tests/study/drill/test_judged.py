"""What was asked on the command line and is not kept."""

from radiosim.study.drill import Drilled, DrillOptions, drill_failsafe
from radiosim.study.drill.judged import trip_violations
from radiosim.study.drill.results import TradePoint
from tests.study.drill.scenarios import HEAD, TIMER, only, scenario_with


def asked(more: str, *kinds: str, reaction_ms: float | None) -> Drilled:
    drill_options = DrillOptions(
        repeats=8, skip=only(*kinds), hours=0.02, workers=1, reaction_ms=reaction_ms
    )
    return drill_failsafe(scenario_with(more), drill_options)


def test_a_stop_past_what_was_asked_fails_and_only_where_it_was_asked() -> None:
    [unmet] = asked(TIMER, "power_off", reaction_ms=200).unmet

    assert (unmet.stream, unmet.figure, unmet.asked, unmet.timeout_ms) == (
        "drive",
        "reaction_ms",
        200,
        250,
    )
    assert unmet.found is not None
    assert unmet.found > 250
    assert not asked(TIMER, "power_off", reaction_ms=200).ok
    assert asked(TIMER, "power_off", reaction_ms=400).ok
    assert asked(TIMER, "power_off", reaction_ms=None).ok


def test_a_stream_that_holds_as_the_scenario_says_has_no_stop_to_ask_for() -> None:
    held = HEAD.replace("{ preset_us = 1500 }", '"hold"')

    assert [
        violation.stream for violation in asked(TIMER + held, "power_off", reaction_ms=100).unmet
    ] == ["drive"]


def test_a_stream_without_a_bound_does_not_keep_any_stop() -> None:
    found = asked(TIMER + 'fed_by = "any"\n' + HEAD, "power_off", reaction_ms=2000)
    [unmet] = found.unmet

    assert (unmet.stream, unmet.found, unmet.where) == ("drive", None, "motor")
    assert "feeds its timer" in unmet.why


def test_a_late_watchdog_does_not_keep_a_stop_that_the_timer_keeps() -> None:
    dog = TIMER + "[receiver]\nwatchdog_ms = 900\nboot_s = 1\n"
    [unmet] = asked(dog, "power_off", "hang", reaction_ms=400).unmet

    assert unmet.is_drilled
    assert unmet.where == "motor at hang receiver"
    assert unmet.found is not None
    assert unmet.found > 800
    assert asked(dog, "power_off", reaction_ms=400).unmet == ()


def test_only_trips_that_are_surely_too_many_fail() -> None:
    def unmet(low: float, asked: float | None) -> list[str]:
        point = TradePoint(
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

    assert unmet(1.5, 1) == ["nuisance_per_hour"]
    assert unmet(0.5, 1) == []
    assert unmet(1.5, None) == []
