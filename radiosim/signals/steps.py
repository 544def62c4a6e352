"""A control that jumps from one position to the next, as a key or a switch does."""

from collections.abc import Sequence
from typing import Annotated

import msgspec
from msgspec import Meta

from radiosim.described import FIELD_UNIT, key
from radiosim.marks import rule
from radiosim.signals.course import STEPS, Course, Points
from radiosim.signals.keys import EveryMs, Positive
from radiosim.signals.span import Span
from radiosim.units import NS_PER_S, ns_from_s

MOST_POSITIONS = 1_000
"""More are a recording: a CSV table."""


@rule
def step_at(n: Sequence[float], points: Points, first: int, count: int, seconds: float) -> float:
    """The position held; n: how long each is (ns); the positions are points from `first` on."""
    # Whole nanoseconds: 0.3 s must be in the fourth hold of 0.1 s, not at the end of the third.
    held = round(seconds * NS_PER_S) // int(n[0])
    return float(points[first + held % count][0])


class Steps(
    msgspec.Struct,
    frozen=True,
    kw_only=True,
    forbid_unknown_fields=True,
    tag_field="kind",
    tag="steps",
):
    """Each value in turn for `hold_s`, over and over."""

    values: Annotated[
        Annotated[tuple[float, ...], Meta(min_length=1, max_length=MOST_POSITIONS)] | None,
        key(
            "positions in turn; left out: the field's lowest, then its highest",
            FIELD_UNIT,
            moves=("stream.duplicates", "output.servo_error_deg"),
            measure="print the control's value in each position",
        ),
    ] = None
    hold_s: Annotated[
        Positive,
        key(
            "time in each position",
            "s",
            moves=("stream.duplicates", "output.servo_error_deg"),
            measure="watch somebody drive: seconds between two changes",
        ),
    ] = 1.0
    every_ms: EveryMs = 0.0

    def value_at(self, seconds: float, frame: int, span: Span) -> float:
        """The value at an instant from the start of the scenario, in the field's own unit."""
        course = self.course(span)
        return step_at(course.numbers, course.points, 0, len(course.points), seconds)

    def course(self, span: Span) -> Course:
        """In plain numbers."""
        positions = tuple((value,) for value in self._positions(span))
        return Course(STEPS, (max(1, ns_from_s(self.hold_s)),), positions)

    def extremes(self, span: Span) -> tuple[float, float]:
        """Lowest and highest value it takes."""
        values = self._positions(span)
        return min(values), max(values)

    def _positions(self, span: Span) -> tuple[float, ...]:
        return (span.minimum, span.maximum) if self.values is None else self.values
