"""A receiver that its own outputs bring down: found with proof and cure, and silent where it is
not."""

import msgspec
import pytest

from radiosim.assess.in_words import brownouts_text
from radiosim.scenario import parse
from radiosim.scenario.changed import changed
from radiosim.study.starts import simulate_starts
from radiosim.vehicle.supply_limits import can_brown_out, enough_mohm, enough_uf
from tests.findings.cases import found, run_of, scenario_with

SERVO = "servo={travel_deg=90}"
LOAD = "load={moving_ma=200, start_ma=650, start_ms=4}"
WEAK = (
    "transmitter.drive.signals.throttle={kind='steps', values=[0.0, 1.0, 0.0, -1.0], hold_s=1.1}",
    f"output.motor={{stream='drive', field='throttle', {SERVO}, {LOAD}}}",
    f"output.pan={{stream='head', field='pan', {SERVO}, {LOAD}}}",
    "receiver.supply={voltage_v=5, resistance_mohm=900, brownout_v=4.5}",
    "receiver.boot_s=0.3",
)
STRONG = (*WEAK, "receiver.supply.resistance_mohm=300")


def test_a_supply_too_weak_for_its_outputs_is_found_and_cured() -> None:
    finding = found(*WEAK)["receiver.supply"]

    assert finding.proof["before"]
    assert finding.proof["after"] == finding.proof["cured"] == 0
    assert finding.set == ('output.motor.load.supply="own"',)
    assert "650 mA" in finding.why
    assert finding.cure.count("leaves none") == 2


def test_a_supply_that_carries_them_is_none() -> None:
    assert "receiver.supply" not in found(*STRONG)


def test_what_it_says_of_resistance_and_capacitor_holds_in_a_rerun() -> None:
    weak = scenario_with(*WEAK)
    supply = weak.receiver.supply
    assert supply is not None
    size_uf, most_mohm = enough_uf(weak, supply), enough_mohm(weak, supply)

    for line in (
        f"receiver.supply.capacitance_uf={size_uf}",
        f"receiver.supply.resistance_mohm={most_mohm}",
    ):
        cured = simulate_starts(changed(weak, (line,)), workers=1)
        assert cured.figures.receiver.brownouts == 0
    assert not can_brown_out(changed(weak, (f"receiver.supply.resistance_mohm={most_mohm}",)))
    assert can_brown_out(changed(weak, (f"receiver.supply.resistance_mohm={most_mohm + 1}",)))


def test_no_capacitor_is_named_where_moving_alone_is_too_much() -> None:
    weak = scenario_with(*WEAK, "receiver.supply.resistance_mohm=1300")
    supply = weak.receiver.supply
    assert supply is not None

    assert enough_uf(weak, supply) is None


def test_a_run_tells_of_them_by_what_drew() -> None:
    run = run_of(*WEAK)
    receiver = run.figures.receiver

    assert isinstance(receiver.brownouts, int)
    assert isinstance(receiver.brownouts_with, tuple)
    assert sum(one.times for one in receiver.brownouts_with) == receiver.brownouts > 0
    assert {name for one in receiver.brownouts_with for name in one.outputs} == {"motor"}
    assert receiver.brownouts_with[0].settles_v == pytest.approx(5 - 0.9 * 0.65)
    said = f"browned out {receiver.brownouts} times in {run.starts} starts, each time by what motor"
    assert said in brownouts_text(run)
    assert brownouts_text(run_of(*STRONG)) == ""


def test_without_a_supply_nothing_is_said_of_it() -> None:
    figures = simulate_starts(parse(TOLD_NOTHING), workers=1).figures

    assert not isinstance(figures.receiver.brownouts, int)
    assert b"brownout" not in msgspec.json.encode(figures)


TOLD_NOTHING = """
duration_s = 2
starts = 1
radio.profile = "gfsk-1M"
transmitter.drive = { period_ms = 20, payload_bytes = 6 }
"""
