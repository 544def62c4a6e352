"""A head that looks left and right, as a worn sensor sends it."""

import math
from collections.abc import Sequence
from typing import Annotated

import msgspec
from msgspec import Meta

from radiosim.signals.keys import Amplitude, EveryMs
from radiosim.signals.span import Span


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
        float,
        Meta(
            gt=0,
            description="Time of one turn of the head, from one side to the other",
            extra_json_schema={"unit": "s"},
        ),
    ] = 3.0
    rest_s: Annotated[
        float,
        Meta(ge=0, description="Time it rests at each side", extra_json_schema={"unit": "s"}),
    ] = 1.0
    every_ms: EveryMs = 0.0

    def value_at(self, seconds: float, frame: int, span: Span) -> float:
        """The value at an instant from the start of the scene, in the field's own unit."""
        return self._at(seconds, span.middle, self._amplitude(span), *self.extremes(span))

    def _at(
        self, seconds: float, middle: float, amplitude: float, low: float, high: float
    ) -> float:
        half_s = self.sweep_s + self.rest_s
        since_right_s = (seconds + self.sweep_s / 2) % (2 * half_s)
        is_way_back, into_half_s = divmod(since_right_s, half_s)
        turned = min(into_half_s / self.sweep_s, 1.0)
        side = math.cos(math.pi * turned)  # 1 at the side it left, -1 at the other
        value = middle + amplitude * (-side if is_way_back else side)
        return low if value < low else high if value > high else value

    def values_at(self, seconds: Sequence[float], frames: Sequence[int], span: Span) -> list[float]:
        """`value_at` for each of some instants and frames."""
        middle, amplitude = span.middle, self._amplitude(span)
        low, high = self.extremes(span)
        return [self._at(s, middle, amplitude, low, high) for s in seconds]

    def extremes(self, span: Span) -> tuple[float, float]:
        """Lowest and highest value it takes."""
        if self.amplitude is None:
            return span.minimum, span.maximum
        return span.middle - self.amplitude, span.middle + self.amplitude

    def _amplitude(self, span: Span) -> float:
        return span.reach(span.middle) if self.amplitude is None else self.amplitude
