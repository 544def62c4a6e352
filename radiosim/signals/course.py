"""What every kind of signal is made of: its keys, its numbers, and its field's span."""

from collections.abc import Sequence
from typing import Annotated, NamedTuple

import msgspec

from radiosim.described import FIELD_UNIT, key
from radiosim.number_kinds import Swing, TimeMs

CONSTANT, SINE, STEPS, TABLE, LOOKAROUND, COUNTER = range(6)

Points = Sequence[Sequence[float]]
"""Rows of numbers: (seconds, value) of a table, (value,) of steps."""


class Course(NamedTuple):
    """What the rule of a kind needs to know."""

    kind: int
    numbers: tuple[float, ...]
    points: tuple[tuple[float, ...], ...] = ()


MOST_NUMBERS = 6


EveryMs = Annotated[
    TimeMs,
    key(
        "how often the control is read; 0: at every frame, more: a slow sensor",
        "ms",
        moves=("output.latency_ms", "output.servo_error_deg", "stream.age_ms"),
        measure=("the rate set in the sensor's registers, or how often the firmware asks it"),
    ),
]

Amplitude = Annotated[
    Swing | None,
    key(
        "how far it goes each way from its middle; left out: as far as the field goes",
        FIELD_UNIT,
        moves=("output.servo_error_deg",),
        measure="record the stick or the sensor and look at its ends",
    ),
]


class Span(msgspec.Struct, frozen=True, kw_only=True):
    """Range of a field, in the field's own unit."""

    minimum: float
    """Lowest value."""
    maximum: float
    """Highest value."""
    neutral: float
    """Value of the control at rest."""
    steps: int
    """Distinct numbers on the wire between minimum and maximum; 0 for a float."""
    scale: float
    """What one step on the wire stands for; below 0 if the wire counts the other way."""

    @property
    def middle(self) -> float:
        """Half way between minimum and maximum."""
        # Halved before adding: the ends of a 64-bit float have no finite sum.
        return self.minimum / 2 + self.maximum / 2

    def reach(self, middle: float) -> float:
        """How far one can go both ways from `middle`; 0 if it is not inside."""
        return max(0.0, min(self.maximum - middle, middle - self.minimum))


def clip(value: float, low: float, high: float) -> float:
    """The value, or the end that it passes."""
    return min(max(value, low), high)
