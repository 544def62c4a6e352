"""A number that goes up by one with every frame."""

import math
from collections.abc import Sequence

import msgspec

from radiosim.signals.keys import EveryMs
from radiosim.signals.span import Span, clip

EXACT = 2**53
"""A double counts in whole steps up to here (IEEE 754)."""


class Counter(
    msgspec.Struct,
    frozen=True,
    kw_only=True,
    forbid_unknown_fields=True,
    tag_field="kind",
    tag="counter",
):
    """Counts frames on the wire from the lowest number of the field, and wraps at the highest."""

    every_ms: EveryMs = 0.0

    def value_at(self, seconds: float, frame: int, span: Span) -> float:
        """The value in a frame (the first is 0); ValueError if the field cannot count."""
        start = _start(span)
        if not _can_count(span):
            raise ValueError(
                "a counter must feed a field of whole numbers that counts in exact steps, "
                f"got one that starts at {start:g} and has {span.steps} steps of {span.scale:g}"
            )
        value = start + (frame % span.steps) * span.scale
        return clip(value, span.minimum, span.maximum)

    def values_at(self, seconds: Sequence[float], frames: Sequence[int], span: Span) -> list[float]:
        """`value_at` for each of some instants and frames."""
        self.value_at(0.0, 0, span)
        start, steps, scale = _start(span), span.steps, span.scale
        low, high = span.minimum, span.maximum
        return [min(max(start + (frame % steps) * scale, low), high) for frame in frames]

    def extremes(self, span: Span) -> tuple[float, float]:
        """Lowest and highest value it takes; infinite, so as to fit no field that cannot count."""
        if not _can_count(span):
            return -math.inf, math.inf
        return span.minimum, span.maximum


def _start(span: Span) -> float:
    """The value with the lowest number on the wire."""
    return span.minimum if span.scale > 0 else span.maximum


def _can_count(span: Span) -> bool:
    """Does every step change the value? Not so in a float, nor far from zero in 64 bits."""
    return span.steps > 0 and abs(_start(span) / span.scale) <= EXACT
