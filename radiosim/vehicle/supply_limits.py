"""What a receiver's supply can carry in closed form, and what would be enough (rules E4, G5)."""

import math

from radiosim.scenario import Scenario
from radiosim.scenario.structs.output_table import Output
from radiosim.scenario.structs.supply_tables import Load, Supply
from radiosim.units import NS_PER_US
from radiosim.vehicle.output_fold import scale_of

CAPACITORS_UF = (470, 1_000, 2_200, 4_700, 10_000, 22_000, 47_000)
"""Sizes to be had for low voltages (common practice, no source)."""
V_PER_UV = 1e-6


def loads_of(scenario: Scenario) -> dict[str, Load]:
    """What hangs on the receiver's supply, by output: bit k of a brown-out's row is the k-th."""
    return {
        name: output.load
        for name, output in scenario.output.items()
        if output.load is not None and output.load.supply == "receiver"
    }


def most_ma_of(load: Load) -> float:
    """The most that a load draws."""
    return load.moving_ma if load.start_ma is None else load.start_ma


def resting_ma(scenario: Scenario) -> float:
    """What board and loads draw while nothing moves."""
    loads = loads_of(scenario).values()
    return scenario.receiver.board_ma + math.fsum(load.rest_ma for load in loads)


def most_ma(scenario: Scenario) -> float:
    """The most that board and loads can draw at once."""
    return scenario.receiver.board_ma + math.fsum(map(most_ma_of, loads_of(scenario).values()))


def voltage_under(supply: Supply, drawn_ma: float) -> float:
    """Where the voltage settles with a current: V - R·I."""
    return supply.voltage_v - supply.resistance_mohm * drawn_ma * V_PER_UV


def can_brown_out(scenario: Scenario) -> bool:
    """Whether all that can be drawn at once brings the receiver under its level."""
    supply = scenario.receiver.supply
    return supply is not None and voltage_under(supply, most_ma(scenario)) < supply.brownout_v


def fewest_apart(scenario: Scenario) -> tuple[str, ...]:
    """The fewest outputs on a supply of their own with which the rest does no harm, in file order.

    None where there is none to do.
    """
    supply, loads = scenario.receiver.supply, loads_of(scenario)
    apart: set[str] = set()
    for name in sorted(loads, key=lambda name: -most_ma_of(loads[name])):
        left_ma = [most_ma_of(load) for other, load in loads.items() if other not in apart]
        drawn_ma = scenario.receiver.board_ma + math.fsum(left_ma)
        if supply is None or voltage_under(supply, drawn_ma) >= supply.brownout_v:
            break
        apart.add(name)
    return tuple(name for name in loads if name in apart)


def enough_mohm(scenario: Scenario, supply: Supply) -> int:
    """The largest resistance, whole mOhm, with which all that can be drawn at once does no harm."""
    return max(0, math.floor(1e6 * (supply.voltage_v - supply.brownout_v) / most_ma(scenario)))


def enough_uf(scenario: Scenario, supply: Supply) -> int | None:
    """The smallest capacitor to be had that carries the receiver while all loads start at once.

    None: none of CAPACITORS_UF does, or the supply cannot bear them once they move. The time to
    the level is that of a capacitor behind a resistance: t = RC·ln((V - V')/(level - V')).
    """
    loads, board_ma = loads_of(scenario).values(), scenario.receiver.board_ma
    moving_ma = board_ma + math.fsum(load.moving_ma for load in loads)
    if voltage_under(supply, moving_ma) <= supply.brownout_v:
        return None
    settles_v = voltage_under(supply, most_ma(scenario))
    rests_v = voltage_under(supply, resting_ma(scenario))
    lasts = math.log((rests_v - settles_v) / (supply.brownout_v - settles_v))
    longest_ns = 1e6 * max(load.start_ms for load in loads)
    least_uf = longest_ns / lasts / supply.resistance_mohm
    return next((size for size in CAPACITORS_UF if size >= least_uf), None)


def still_and_span(output: Output) -> tuple[float, float]:
    """The level at which a load stands still, and how far from that a level can be at most."""
    motor, still, levels = output.motor, 0.0, output.value
    if output.kind == "servo":
        scale = scale_of(output)
        levels = (scale.least_ns, scale.most_ns)
        still = 0.0 if motor is None or motor.idle_us is None else motor.idle_us * NS_PER_US
    return still, max(abs(level - still) for level in levels)
