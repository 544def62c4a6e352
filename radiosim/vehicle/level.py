"""Levels of an output as its scenario describes them: scale, limits, start and preset (rule G)."""

import math

from radiosim.scenario.structs.output import Output, Preset
from radiosim.units import NS_PER_US
from radiosim.vehicle.fold.level import Scale, level_of


def scale_of(output: Output) -> Scale:
    """How an output turns the mixed value of its fields into a level."""
    low, high = sorted(output.value)
    least_ns, most_ns = sorted(limit * NS_PER_US for limit in output.limit_us)
    first_ns, last_ns = (pulse * NS_PER_US for pulse in output.pulse_us)
    return Scale(
        low=low,
        high=high,
        has_pulses=int(output.kind == "servo"),
        first_ns=first_ns,
        last_ns=last_ns,
        least_ns=least_ns,
        most_ns=most_ns,
    )


def limited(scale: Scale, pulse_us: float) -> float:
    """A pulse inside the limits, in whole ns."""
    return float(round(min(max(pulse_us * NS_PER_US, scale.least_ns), scale.most_ns)))


def start_level(output: Output) -> float:
    """Level until the first frame; NaN: no pulses (rule G1)."""
    if output.at_start == "none":
        return math.nan
    if output.kind == "servo":
        return limited(scale_of(output), output.at_start)
    return output.at_start


def preset_level(output: Output) -> float:
    """Level of its preset on failsafe; NaN where there is none (rule F4)."""
    action = output.on_failsafe
    if not isinstance(action, Preset):
        return math.nan
    if action.preset_us is not None:
        return limited(scale_of(output), action.preset_us)
    return math.nan if action.preset is None else level_of(scale_of(output), action.preset)
