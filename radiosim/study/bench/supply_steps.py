"""Steps at the receiver's supply: how far what outputs draw pulls it down (rules E4 and G5)."""

import math
from collections.abc import Iterator

from msgspec.structs import replace

from radiosim.safety import STILL
from radiosim.scenario import Scenario
from radiosim.scenario.structs.supply_tables import Supply
from radiosim.study.bench.rests import has_default, rests_on
from radiosim.study.bench.step import (
    Chapter,
    Prediction,
    Step,
    StepCase,
    assumed_where,
    exact,
    key_of,
)
from radiosim.vehicle.supply_jump import full_jump, lowest_v
from radiosim.vehicle.supply_limits import (
    loads_of,
    most_ma,
    most_ma_of,
    resting_ma,
    voltage_under,
)

_KEYS = (
    *(f"receiver.supply.{key}" for key in ("voltage_v", "resistance_mohm", "brownout_v")),
    *("receiver.supply.capacitance_uf", "receiver.board_ma"),
    *(f"output.NAME.load.{key}" for key in ("rest_ma", "moving_ma", "start_ma", "start_ms")),
)
_VOLTS = 0.01
"""Of an oscilloscope that shows 0.2 V a division."""
LOWEST = "lowest voltage"
RESTARTS = "the receiver RESTARTS"


def supply_chapter(scenario: Scenario) -> Chapter | None:
    """Voltages at rest, with each load on its own and with all; None without a supply or loads."""
    supply, loads = scenario.receiver.supply, loads_of(scenario)
    if supply is None or not loads:
        return None
    rests = rests_on(scenario, *_KEYS)
    return Chapter(
        title="The receiver's supply",
        how=(
            f"{STILL[0].upper()}{STILL[1:]}, linkages free: a servo that is held stalls and "
            f"overheats. All at once draw up to {most_ma(scenario):.4g} mA, stalled as long as "
            "they are held: see that leads and fuse bear that first. Oscilloscope at the supply "
            "pins of the receiver's board, falling edge."
        ),
        steps=tuple(
            replace(step, cases=assumed_where(lambda *_: has_default(rests), step.cases))
            for step in (_rest(scenario, supply), _jumps(scenario, supply))
        ),
        rests_on=rests,
    )


def _rest(scenario: Scenario, supply: Supply) -> Step:
    volts = voltage_under(supply, resting_ma(scenario))
    return Step(
        key="supply.rest",
        title="Supply with nothing moving",
        do="All units on, controls left alone.",
        measure="The voltage.",
        cases=(
            StepCase(
                key="supply.rest.receiver",
                title="receiver",
                predicted=(exact("voltage at rest", volts, volts, "V", _VOLTS),),
            ),
        ),
        if_not=(
            "Another cell, or emptier: receiver.supply.voltage_v. More drawn at rest: "
            f"receiver.board_ma, {key_of('output', tuple(loads_of(scenario)))}.load.rest_ma."
        ),
    )


def _jumps(scenario: Scenario, supply: Supply) -> Step:
    names = tuple(loads_of(scenario))
    return Step(
        key="supply.jump",
        title="Supply as outputs jump",
        do=(
            "From rest, jump the control of one output from end to end, or of a motor from "
            "standing still to full; ten times, a second apart. Then all at once. Again with the "
            "supply as empty as you will drive with: that is not in the prediction."
        ),
        measure="The lowest voltage, and whether outputs lose their pulses.",
        cases=tuple(_cases(scenario, supply)),
        if_not=(
            "Lower: leads, plugs or a regulator at its limit: receiver.supply.resistance_mohm; or "
            f"more is drawn as it starts: {key_of('output', names)}.load.start_ma, start_ms. A "
            "restart that is not predicted: do not drive: receiver.supply.brownout_v, "
            "capacitance_uf."
        ),
    )


def _cases(scenario: Scenario, supply: Supply) -> Iterator[StepCase]:
    """Each load on its own, then all of them, which never start at quite the same instant."""
    names = tuple(loads_of(scenario))
    alone = {name: _lowest(scenario, supply, name) for name in names}
    for name, (low, high) in alone.items():
        yield StepCase(
            key=f"supply.jump.{name}",
            title=name,
            predicted=(_predicted(supply, low, high),),
        )
    if len(names) > 1:
        rests_v = voltage_under(supply, resting_ma(scenario))
        # A resistance and a capacitor add up what each takes: the most of all, met at one instant.
        low = rests_v - math.fsum(rests_v - low for low, _ in alone.values())
        yield StepCase(
            key="supply.jump.all",
            title="all at once",
            predicted=(_predicted(supply, low, min(high for _, high in alone.values())),),
        )


def _lowest(scenario: Scenario, supply: Supply, name: str) -> tuple[float, float]:
    """Between which two the lowest voltage lies as one load jumps.

    A value that is smoothed starts a load anew with each pulse, or never pulls as hard as at once.
    """
    output, load = scenario.output[name], loads_of(scenario)[name]
    rests_ma = resting_ma(scenario)
    still_ma = rests_ma - load.rest_ma
    if output.smoothing_us_per_pass:
        drawn_ma = still_ma + most_ma_of(load)
        return voltage_under(supply, drawn_ma), voltage_under(supply, rests_ma)
    lowest = lowest_v(supply, still_ma, full_jump(output, load))
    return lowest, lowest


def _predicted(supply: Supply, low: float, high: float) -> Prediction:
    needs = f"under the {supply.brownout_v:g} V that it needs: no pulses until it has booted"
    if high < supply.brownout_v:
        # Its pins float then, and what runs by them stops: it may fall no further.
        return exact(LOWEST, low, supply.brownout_v, "V", _VOLTS, text=f"{RESTARTS}, {needs}")
    text = f"{RESTARTS} where it falls {needs}" if low < supply.brownout_v else ""
    return exact(LOWEST, low, high, "V", _VOLTS, text=text)
