"""A control that swings to and fro."""

import math
from collections.abc import Sequence
from typing import Annotated

import msgspec

from radiosim.described import FIELD_UNIT, key
from radiosim.marks import rule
from radiosim.signals.course import SINE, Course
from radiosim.signals.keys import Amplitude, EveryMs, Positive
from radiosim.signals.span import Span


@rule
def sine_at(n: Sequence[float], seconds: float) -> float:
    """Where in the swing it is; n: period (s), phase (turns), middle, amplitude, ends."""
    period_s, phase, middle, amplitude, low, high = n[0], n[1], n[2], n[3], n[4], n[5]
    turns = seconds / period_s
    # Whole turns off first: the sine of a large angle has lost its last digits.
    value = middle + amplitude * math.sin(2 * math.pi * (turns - math.floor(turns) + phase))
    return min(max(value, low), high)


class Sine(
    msgspec.Struct,
    frozen=True,
    kw_only=True,
    forbid_unknown_fields=True,
    tag_field="kind",
    tag="sine",
):
    """mean + amplitude · sin(2π · seconds / period_s + phase)."""

    period_s: Annotated[
        Positive,
        key(
            "time of one swing there and back",
            "s",
            moves=("output.servo_error_deg",),
            measure="watch somebody drive: seconds from one side to the other and back",
        ),
    ] = 4.0
    amplitude: Amplitude = None
    mean: Annotated[
        float | None,
        key(
            "middle of the swing; left out: the middle of the field's range",
            FIELD_UNIT,
            moves=("output.servo_error_deg",),
            measure="record the stick and look at its middle",
        ),
    ] = None
    phase_deg: Annotated[
        float,
        key(
            "where in the swing it begins: 0 in the middle going up, 90 at the top",
            "deg",
            moves=("output.servo_error_deg",),
            measure="choose it: nothing to measure",
        ),
    ] = 0.0
    every_ms: EveryMs = 0.0

    def value_at(self, seconds: float, frame: int, span: Span) -> float:
        """The value at an instant from the start of the scenario, in the field's own unit."""
        return sine_at(self.course(span).numbers, seconds)

    def course(self, span: Span) -> Course:
        """In plain numbers."""
        numbers = (self.period_s, self.phase_deg / 360, *self._swing(span), *self.extremes(span))
        return Course(SINE, numbers)

    def extremes(self, span: Span) -> tuple[float, float]:
        """Lowest and highest value it takes."""
        middle, amplitude = self._swing(span)
        if self.amplitude is None and amplitude > 0:
            # Written so that rounding cannot carry an end past the field's.
            return max(middle - amplitude, span.minimum), min(middle + amplitude, span.maximum)
        return middle - amplitude, middle + amplitude

    def _swing(self, span: Span) -> tuple[float, float]:
        middle = span.middle if self.mean is None else self.mean
        return middle, span.reach(middle) if self.amplitude is None else self.amplitude
