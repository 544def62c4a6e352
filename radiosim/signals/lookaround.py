"""A head that looks left and right, as a worn sensor sends it."""

import math
from collections.abc import Sequence
from typing import Annotated

import msgspec

from radiosim.described import key
from radiosim.marks import rule
from radiosim.signals.course import LOOKAROUND, Course
from radiosim.signals.keys import Amplitude, EveryMs, NotNegative, Positive
from radiosim.signals.span import Span


@rule
def look_at(n: Sequence[float], seconds: float) -> float:
    """Where the head is; n: turn, turn and rest (s), middle, amplitude, lowest, highest."""
    sweep_s, half_s, middle, amplitude, low, high = n[0], n[1], n[2], n[3], n[4], n[5]
    halves = (seconds + sweep_s / 2) / half_s
    is_way_back = math.floor(halves) % 2 == 1
    into_half_s = (halves - math.floor(halves)) * half_s
    turned = min(into_half_s / sweep_s, 1.0)
    side = math.cos(math.pi * turned)  # 1 at the side it left, -1 at the other
    value = middle + amplitude * (-side if is_way_back else side)
    return min(max(value, low), high)


class LookAround(
    msgspec.Struct,
    frozen=True,
    kw_only=True,
    forbid_unknown_fields=True,
    tag_field="kind",
    tag="lookaround",
):
    """Looks left (the lowest value), rests, looks right, rests; every turn is a raised cosine.

    It begins in the middle, half way through a turn to the left.
    """

    amplitude: Amplitude = None
    sweep_s: Annotated[
        Positive,
        key(
            "time of one turn of the head, from one side to the other",
            "s",
            moves=("output.servo_error_deg",),
            measure="look from one side to the other as in driving, and time it",
        ),
    ] = 3.0
    rest_s: Annotated[
        NotNegative,
        key(
            "time it rests at each side",
            "s",
            moves=("stream.duplicates", "output.servo_error_deg"),
            measure="watch somebody drive: how long the head rests at a side",
        ),
    ] = 1.0
    every_ms: EveryMs = 0.0

    def value_at(self, seconds: float, frame: int, span: Span) -> float:
        """The value at an instant from the start of the scenario, in the field's own unit."""
        return look_at(self.course(span).numbers, seconds)

    def course(self, span: Span) -> Course:
        """In plain numbers."""
        half_s, amplitude = self.sweep_s + self.rest_s, self._amplitude(span)
        numbers = (self.sweep_s, half_s, span.middle, amplitude, *self.extremes(span))
        return Course(LOOKAROUND, numbers)

    def extremes(self, span: Span) -> tuple[float, float]:
        """Lowest and highest value it takes."""
        if self.amplitude is None:
            return span.minimum, span.maximum
        return span.middle - self.amplitude, span.middle + self.amplitude

    def _amplitude(self, span: Span) -> float:
        return span.reach(span.middle) if self.amplitude is None else self.amplitude
