"""From fields to the level of an output: mix, scale, limits (rule G2)."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from radiosim.engine.payload import Payload, Values
from radiosim.scenario.structs.output import Output, Preset
from radiosim.units import NS_PER_US


@dataclass(frozen=True, slots=True, kw_only=True)
class Levels:
    """How one output turns values into a level: a servo's pulse in ns, else the value itself."""

    weights: tuple[tuple[int, float], ...]
    """Field number and weight."""
    low: float
    high: float
    pulse_ns: tuple[float, float] | None
    limit_ns: tuple[float, float]

    def of_value(self, mixed: float) -> float:
        """Level of a mixed value."""
        return float(self.of_values(np.array([mixed]))[0])

    def of_values(self, mixed: Values) -> Values:
        """Level of each of some mixed values."""
        value = mixed.clip(self.low, self.high)
        if self.pulse_ns is None:
            return value
        first, last = self.pulse_ns
        pulses = first + (value - self.low) / (self.high - self.low) * (last - first)
        return np.round(pulses.clip(*self.limit_ns))

    def limited(self, pulse_ns: float) -> float:
        """A pulse inside the limits, in whole ns."""
        return float(round(min(max(pulse_ns, self.limit_ns[0]), self.limit_ns[1])))

    def mixed(self, value_of: Callable[[int], Values]) -> Values:
        """The weighted sum of the fields, whose values a function of the field number gives."""
        (first, weight), *others = self.weights
        total = weight * value_of(first)
        for field, other in others:
            total = total + other * value_of(field)
        return total


def levels_of(output: Output, payload: Payload) -> Levels:
    """How an output of the scene turns the values of its stream's frames into levels."""
    low, high = sorted(output.value)
    limits = sorted(limit * NS_PER_US for limit in output.limit_us)
    first, last = (pulse * NS_PER_US for pulse in output.pulse_us)
    return Levels(
        weights=tuple(
            (payload.layout.index_of(field), weight) for field, weight in output.mix.items()
        ),
        low=low,
        high=high,
        pulse_ns=(first, last) if output.kind == "servo" else None,
        limit_ns=(limits[0], limits[1]),
    )


def start_level(output: Output, levels: Levels) -> float | None:
    """Level until the first frame; None: no pulses (rule G1)."""
    if output.at_start == "none":
        return None
    if output.kind == "servo":
        return levels.limited(output.at_start * NS_PER_US)
    return output.at_start


def failsafe_level(output: Output, levels: Levels, held: float | None) -> float | None:
    """Level on failsafe; None: no pulses, or the pin released (rule F4)."""
    action = output.on_failsafe
    if action == "hold":
        return held
    if not isinstance(action, Preset):
        return None
    if action.preset_us is not None:
        return levels.limited(action.preset_us * NS_PER_US)
    if action.preset is not None:
        return levels.of_value(action.preset)
    return None
