"""A control that nobody touches."""

from collections.abc import Sequence
from typing import Annotated

import msgspec

from radiosim.described import FIELD_UNIT, key
from radiosim.marks import rule
from radiosim.signals.course import CONSTANT, Course
from radiosim.signals.keys import EveryMs
from radiosim.signals.span import Span, clip


@rule
def constant_at(n: Sequence[float]) -> float:
    """The value for ever; n: that value."""
    return n[0]


class Constant(
    msgspec.Struct,
    frozen=True,
    kw_only=True,
    forbid_unknown_fields=True,
    tag_field="kind",
    tag="constant",
):
    """One value for ever."""

    value: Annotated[
        float | None,
        key(
            "where the control stands; left out: the field's neutral",
            FIELD_UNIT,
            moves=("stream.duplicates", "output.servo_error_deg"),
            measure="print the control's value while it is in that position",
        ),
    ] = None
    every_ms: EveryMs = 0.0

    def value_at(self, seconds: float, frame: int, span: Span) -> float:
        """The value, in the field's own unit."""
        return constant_at(self.course(span).numbers)

    def course(self, span: Span) -> Course:
        """In plain numbers."""
        if self.value is None:
            return Course(CONSTANT, (clip(span.neutral, span.minimum, span.maximum),))
        return Course(CONSTANT, (self.value,))

    def extremes(self, span: Span) -> tuple[float, float]:
        """Lowest and highest value it takes."""
        value = self.value_at(0.0, 0, span)
        return value, value
