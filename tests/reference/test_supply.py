"""Dips of a supply against the handbook: V - R·I, and a capacitor behind a resistance."""

import math

import pytest

from radiosim.scenario import parse
from radiosim.scenario.structs.supply_tables import Load
from radiosim.vehicle.feedback import simulate
from radiosim.vehicle.fold.supply import reaches_ns, volts_at
from radiosim.vehicle.supply_limits import most_ma_of
from radiosim.vehicle.vehicle import run_vehicle
from tests.reference.outside import MEMORY, PRACTICE, check, outside
from tests.reference.sources import CIRCUITS, TRADE
from tests.vehicle.test_supply import TWO

START_V, LEVEL_V, SETTLES_V = 5.0, 4.5, 4.35
"""Of two servos that start at once in the scenario: 1300 mA through 0.5 Ohm."""


@outside("voltage after 1, 2, 3 and 5 time constants", source=CIRCUITS.key, status=MEMORY)
@pytest.mark.parametrize(
    ("constants", "left"), [(1, 0.3679), (2, 0.1353), (3, 0.0498), (5, 0.0067)]
)
def test_a_capacitor_keeps_the_printed_share_of_its_voltage(constants: int, left: float) -> None:
    check.near(volts_at(1e6, 1.0, 0.0, constants * 1_000_000), left, within=0.00005)


@outside("half of the way takes 0.693 time constants", source=CIRCUITS.key, status=MEMORY)
def test_half_of_the_way_takes_as_long_as_printed() -> None:
    check.near(reaches_ns(1e9, 2.0, 1.0, 1.5) / 1e9, 0.6931, within=0.00005)


@outside("voltage behind a resistance", source=CIRCUITS.key, status=MEMORY, unit="V")
def test_two_servos_that_start_at_once_leave_what_ohms_law_says() -> None:
    first = simulate(parse(TWO)).brownouts[0]

    check.near(first["settles_uv"] / 1e6, START_V - 0.5 * 1.3, within=1e-6)


@outside("from the start of two servos to the reset", source=CIRCUITS.key, status=MEMORY, unit="ns")
@pytest.mark.parametrize("capacitance_uf", [100, 1_000, 10_000])
def test_a_capacitor_puts_the_reset_off_by_the_formula(capacitance_uf: int) -> None:
    given = parse(TWO, overrides=[f"receiver.supply.capacitance_uf={capacitance_uf}"])
    trace = simulate(given)
    at_ns = int(trace.brownouts[0]["at_ns"])
    effects = run_vehicle(trace).outputs["steer"].effects
    moves = effects[(effects["level"] == 1_500_000) & (effects["end_ns"] < at_ns)]

    constant_ns = 0.5 * capacitance_uf * 1e-6 * 1e9
    due_ns = constant_ns * math.log((START_V - SETTLES_V) / (LEVEL_V - SETTLES_V))
    check.near(at_ns - int(moves["end_ns"][0]), due_ns, within=1)


@outside("current of a small servo as it starts", source=TRADE.key, status=PRACTICE, unit="mA")
def test_a_small_servo_starts_with_what_it_draws_when_stalled() -> None:
    load = parse(TWO).output["steer"].load
    assert isinstance(load, Load)

    check.between(most_ma_of(load), 600, 800)
