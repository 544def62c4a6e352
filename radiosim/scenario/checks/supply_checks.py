"""Checks of the receiver's supply and of what outputs draw from it."""

from collections.abc import Iterator

from radiosim.scenario.checks.view import Found, View
from radiosim.scenario.structs.output_table import OutputTable
from radiosim.scenario.structs.supply_tables import MOST_LOADS, Load, Supply

_Problem = tuple[tuple[str, ...], str]


def supply_problems(view: View) -> Iterator[Found]:
    """A supply that never carries the receiver, and loads of which nothing can be known."""
    supply = view.file.receiver.supply
    for name, output in view.file.output.items():
        if output.load is not None:
            for keys, text in _of_load(output, output.load, supply):
                yield ("output", name, "load", *keys), text
    if supply is not None:
        fed = [
            output.load
            for output in view.file.output.values()
            if output.load is not None and output.load.supply == "receiver"
        ]
        if len(fed) > MOST_LOADS:
            yield (
                ("output",),
                f"must load receiver.supply with at most {MOST_LOADS}, got {len(fed)}",
            )
        resting_ma = view.file.receiver.board_ma + sum(load.rest_ma for load in fed)
        least_v = supply.brownout_v + supply.hysteresis_mv / 1000
        resting_v = supply.voltage_v - supply.resistance_mohm * resting_ma / 1e6
        if not resting_v > least_v:
            yield (
                ("receiver", "supply", "voltage_v"),
                f"must leave more than {least_v:g} V (brownout_v and hysteresis_mv) with "
                f"{resting_ma:g} mA drawn at rest, got {resting_v:.4g} V",
            )


def _of_load(output: OutputTable, load: Load, supply: Supply | None) -> Iterator[_Problem]:
    if supply is None and load.supply == "receiver":
        yield (), "must be left out without receiver.supply, or with supply = 'own'"
    if load.moving_ma < load.rest_ma:
        yield ("moving_ma",), f"must be >= rest_ma ({load.rest_ma:g}), got {load.moving_ma:g}"
    if load.start_ma is not None and load.start_ma < load.moving_ma:
        yield ("start_ma",), f"must be >= moving_ma ({load.moving_ma:g}), got {load.start_ma:g}"
    motor = output.motor
    is_placed = output.servo is not None or (motor is not None and motor.idle_us is not None)
    if output.kind == "servo" and not is_placed:
        yield (
            (),
            "must be left out without servo (how fast it turns) or motor.idle_us (where it "
            "stands still)",
        )
