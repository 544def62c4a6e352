"""What the receiver's voltage does in closed form as loads start (rules E4 and G5)."""

from typing import NamedTuple

from radiosim.engine.timeline import FOREVER_NS
from radiosim.scenario.structs.output_table import Output
from radiosim.scenario.structs.supply_tables import Load, Supply
from radiosim.units import NS_PER_S, NS_PER_US, ns_from_ms
from radiosim.vehicle.fold.supply import volts_at
from radiosim.vehicle.fold.values import level_of
from radiosim.vehicle.output_fold import scale_of
from radiosim.vehicle.supply_limits import most_ma_of, still_and_span, voltage_under


class Draw(NamedTuple):
    """What one load draws from when it starts, mA, and for how long, ns."""

    starting_ma: float
    start_ns: int
    flowing_ma: float
    moving_ns: int
    """Both together; FOREVER_NS: it runs on."""
    rest_ma: float


def lowest_v(supply: Supply, still_ma: float, draw: Draw) -> float:
    """The lowest voltage as one load starts, all else drawing `still_ma`.

    While one current flows the voltage goes to one level: it is lowest where that changes.
    """
    tau_ns = supply.resistance_mohm * supply.capacitance_uf
    rests_v = voltage_under(supply, still_ma + draw.rest_ma)
    start_ns = min(draw.start_ns, draw.moving_ns)
    started_v, flowed_v = rests_v, rests_v
    if start_ns > 0:
        settles_v = voltage_under(supply, still_ma + draw.starting_ma)
        started_v = flowed_v = volts_at(tau_ns, rests_v, settles_v, start_ns)
    if draw.moving_ns > start_ns:
        settles_v = voltage_under(supply, still_ma + draw.flowing_ma)
        flowed_v = volts_at(tau_ns, started_v, settles_v, draw.moving_ns - start_ns)
    return min(rests_v, started_v, flowed_v)


def full_jump(output: Output, load: Load) -> Draw:
    """What a load draws as its value jumps from end to end, or from where a motor stands still to
    its farthest (rule G5)."""
    scale, start_ns = scale_of(output), ns_from_ms(load.start_ms)
    levels = [level_of(scale, value) for value in output.value]
    if output.kind == "servo" and output.servo is not None:
        first, last = output.servo.over_us
        ends = [min(max((ns / NS_PER_US - first) / (last - first), 0.0), 1.0) for ns in levels]
        turn_s = abs(ends[1] - ends[0]) * output.servo.travel_deg / 60
        moving_ns = round(turn_s * output.servo.seconds_per_60deg * NS_PER_S)
        return Draw(most_ma_of(load), start_ns, load.moving_ma, moving_ns, load.rest_ma)
    still, span = still_and_span(output)
    of_full = min(max(abs(level - still) for level in levels) / span, 1.0)
    return Draw(
        load.rest_ma + of_full * (most_ma_of(load) - load.rest_ma),
        start_ns,
        load.rest_ma + of_full * (load.moving_ma - load.rest_ma),
        FOREVER_NS if of_full > 0 else 0,
        load.rest_ma,
    )
