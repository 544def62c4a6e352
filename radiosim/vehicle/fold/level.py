"""From a mixed value to the level of an output: scale and limits (rule G2)."""

from typing import NamedTuple

from radiosim.marks import rule


class Scale(NamedTuple):
    """How one output turns a value into a level: a servo's pulse in ns, else the value itself."""

    low: float
    high: float
    has_pulses: int
    first_ns: float
    """Pulse at the lowest value."""
    last_ns: float
    """Pulse at the highest."""
    least_ns: float
    most_ns: float
    """Pulses are kept inside these two."""


@rule
def level_of(s: Scale, mixed: float) -> float:
    """Level of a mixed value, pulses in whole ns."""
    value = min(max(mixed, s.low), s.high)
    if s.has_pulses == 0:
        return value
    pulse_ns = s.first_ns + (value - s.low) / (s.high - s.low) * (s.last_ns - s.first_ns)
    return float(round(min(max(pulse_ns, s.least_ns), s.most_ns)))
