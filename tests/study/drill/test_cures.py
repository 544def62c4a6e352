"""Keys that end what a drill has found."""

from radiosim.scenario import parse
from radiosim.study.drill import DrillOptions, drill_failsafe
from tests.study.drill.scenarios import BASE, HEAD, TIMER, drilled, only, scenario_with


def cures(more: str, *kinds: str) -> tuple[str, ...]:
    return tuple(cure.set for cure in drilled(scenario_with(more), *kinds, repeats=8).cures)


def test_each_cause_has_its_key_once() -> None:
    assert cures(TIMER + 'fed_by = "any"\n' + HEAD) == (
        "failsafe.drive.fed_by=own",
        "failsafe.drive.watch_field=count",
        "receiver.watchdog_ms=250",
        "transmitter.drive.recheck_ms=100",
        "transmitter.head.recheck_ms=100",
        "receiver.recheck_ms=100",
    )


def test_a_scenario_with_its_cures_has_no_failure_that_they_are_for() -> None:
    more = (
        'fed_by = "own"\nwatch_field = "count"\n[receiver]\nwatchdog_ms = 250\nrecheck_ms = 100\n'
    )
    cured = parse(
        (BASE + TIMER + more).replace("period_ms = 20", "period_ms = 20\nrecheck_ms = 100")
    )
    found = drilled(cured, repeats=8)

    assert (found.failed, found.cures) == ((), ())
    assert cures(TIMER) != ()


def test_a_stream_without_a_counter_is_not_told_to_watch_one() -> None:
    found = drilled(scenario_with(TIMER + HEAD), "stale", repeats=8)

    assert {drill.stream for drill in found.failed} == {"drive", "head"}
    assert [cure.set for cure in found.cures] == ["failsafe.drive.watch_field=count"]


def test_a_stream_without_a_failsafe_is_given_one() -> None:
    assert "failsafe.drive.timeout_ms=250" in cures("", "power_off")


def test_a_timeout_that_keeps_what_was_asked_is_told() -> None:
    drill_options = DrillOptions(
        repeats=8,
        skip=only("power_off"),
        hours=0.1,
        workers=1,
        reaction_ms=200,
        nuisance_per_hour=100,
    )
    found = drill_failsafe(scenario_with(), drill_options)

    [cure] = found.cures
    assert not found.feasible_range["drive"].is_empty
    assert cure.set == f"failsafe.drive.timeout_ms={found.feasible_range['drive'].longest_ms:g}"
