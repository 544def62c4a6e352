"""A number that goes up by one with every frame."""

import math
from collections.abc import Sequence

import msgspec

from radiosim.marks import rule
from radiosim.signals.course import COUNTER, Course
from radiosim.signals.keys import EveryMs
from radiosim.signals.span import Span

EXACT = 2**53
"""A double counts in whole steps up to here (IEEE 754)."""


@rule
def count_at(n: Sequence[float], frame: int) -> float:
    """The count in a frame; n: first value, values, step, lowest, highest."""
    value = n[0] + (frame % int(n[1])) * n[2]
    return min(max(value, n[3]), n[4])


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
        return count_at(self.course(span).numbers, frame)

    def course(self, span: Span) -> Course:
        """In plain numbers; ValueError if the field cannot count."""
        start = _start(span)
        if not can_count(span):
            raise ValueError(
                "a counter must feed a field of whole numbers that counts in exact steps, "
                f"got one that starts at {start:g} and has {span.steps} steps of {span.scale:g}"
            )
        return Course(COUNTER, (start, span.steps, span.scale, span.minimum, span.maximum))

    def extremes(self, span: Span) -> tuple[float, float]:
        """Lowest and highest value it takes; infinite, so as to fit no field that cannot count."""
        if not can_count(span):
            return -math.inf, math.inf
        return span.minimum, span.maximum


def _start(span: Span) -> float:
    """The value with the lowest number on the wire."""
    return span.minimum if span.scale > 0 else span.maximum


def can_count(span: Span) -> bool:
    """Does every step change the value? Not so in a float, nor far from zero in 64 bits."""
    return span.steps > 0 and abs(_start(span) / span.scale) <= EXACT
