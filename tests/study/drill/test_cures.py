"""Lines that end what a drill has found: each is tried, and works."""

import pytest
from hypothesis import HealthCheck, given

from radiosim.safety import OWN_SUPPLY
from radiosim.scenario import Scenario, parse
from radiosim.study.drill.cures import is_left_driven
from radiosim.study.drill.drill import DrillOptions, drill_failsafe
from radiosim.study.drill.results import FAILS, Drilled
from tests.examples import examples
from tests.study.drill.scenarios import (
    BASE,
    HEAD,
    LOAD,
    STRONG,
    TIMER,
    WEAK,
    drilled,
    only,
    scenario_with,
    texts,
)


def cures(more: str, *kinds: str) -> tuple[str, ...]:
    return tuple(cure.set for cure in drilled(scenario_with(more), *kinds, repeats=8).cures)


def left_driven(scenario: Scenario, found: Drilled) -> set[tuple[str, str, str]]:
    """Outputs that are driven on, or that nothing bounds, at each fault."""
    return {
        (each.fault, each.unit, each.output)
        for each in found.drills
        if is_left_driven(scenario, each)
    }


@pytest.mark.slow
@given(text=texts())
@examples(8, suppress_health_check=[HealthCheck.too_slow])
def test_whatever_stays_driven_has_a_cure_that_works_or_is_said_to_have_none(text: str) -> None:
    scenario = parse(text)
    found = drilled(scenario, repeats=8, hours=0.001)
    cured_scenario = parse(text, overrides=[cure.set for cure in found.cures])
    cured = drilled(cured_scenario, repeats=8, hours=0.001)

    # Neither do the cures make another output worse.
    assert left_driven(cured_scenario, cured) <= {
        (each.fault, each.unit, each.output) for each in found.uncured
    }
    assert all(each.instead for each in found.uncured)
    assert all(each.why for each in found.drills if each.still_driven)


def test_each_cause_has_its_key_once() -> None:
    assert cures(TIMER + 'fed_by = "any"\n' + HEAD) == (
        "failsafe.drive.fed_by=own",
        "transmitter.drive.recheck_ms=100",
        "failsafe.drive.watch_field=count",
        "receiver.watchdog_ms=250",
        "receiver.recheck_ms=100",
        "transmitter.head.recheck_ms=100",
        "transmitter.head.payload_bytes=5",
        'transmitter.head.signals.spare_3={ kind = "counter" }',
        "failsafe.head.watch_field=spare_3",
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


def test_a_full_frame_has_no_room_for_a_counter_and_no_cure_but_the_firmware() -> None:
    full = TIMER + HEAD.replace("payload_bytes = 4", "payload_bytes = 32")
    found = drilled(scenario_with(full), "stale", repeats=8)

    assert {drill.stream for drill in found.failed} == {"drive", "head"}
    assert [cure.set for cure in found.cures] == ["failsafe.drive.watch_field=count"]
    [left] = found.uncured
    assert (left.fault, left.unit, left.output) == ("stale", "head", "pan")
    assert "head needs a counter: its frame is full (32 of 32 bytes): free a byte" in left.instead


def test_a_stream_without_a_failsafe_is_given_one() -> None:
    assert "failsafe.drive.timeout_ms=250" in cures("", "power_off")


def test_a_motor_that_holds_its_value_is_switched_off() -> None:
    holding = BASE.replace("{ preset_us = 1500 }", '"hold"') + "motor.stop_s = 0.1\n" + TIMER
    found = drilled(parse(holding), "power_off", repeats=8)

    assert [cure.set for cure in found.cures] == ["output.motor.on_failsafe=off"]


def test_a_failsafe_value_that_nobody_has_said_is_no_pass() -> None:
    nothing_said = BASE[: BASE.index("[output.motor]")] + TIMER
    found = drilled(parse(nothing_said), "power_off", repeats=8)

    assert (found.guessed, found.failed, found.ok) == (("drive",), (), False)


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


LAMP = '[output.lamp]\nstream = "drive"\nfield = "pull"\nkind = "pin"\non_failsafe = "off"\n'
FED = TIMER.replace("\n", '\nwatch_field = "count"\n', 1) + LAMP + LOAD


def test_what_loads_too_much_is_taken_off_the_receivers_supply() -> None:
    found = drilled(scenario_with(f"{FED}[receiver.supply]\n{WEAK}"), "power_off", repeats=8)

    # 5 V - 0.8 Ohm * 700 mA leave 4.44 V of the 4.5 V that it needs.
    assert {(each.output, each.verdict) for each in found.drills} == {
        ("motor", FAILS),
        ("lamp", FAILS),
    }
    (cure,) = found.cures
    assert cure.set == 'output.lamp.load.supply="own"'
    assert "up to 700 mA as when stalled" in cure.does
    assert OWN_SUPPLY in cure.does
    assert found.uncured == ()


def test_a_supply_that_carries_its_loads_asks_for_none() -> None:
    found = drilled(scenario_with(f"{FED}[receiver.supply]\n{STRONG}"), "power_off", repeats=8)

    assert (found.failed, found.cures) == ((), ())


def test_no_more_is_taken_off_it_than_need_be() -> None:
    heavy = LAMP.replace("output.lamp", "output.heater") + LOAD.replace("700", "900")
    supply = f"[receiver.supply]\n{WEAK.replace('800', '650')}"
    found = drilled(scenario_with(f"{FED}{heavy}{supply}"), "power_off", repeats=8)

    # 0.65 Ohm carries 769 mA: the lamp, not the heater.
    assert [cure.set for cure in found.cures] == ['output.heater.load.supply="own"']
    assert found.uncured == ()
