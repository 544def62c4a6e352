"""A control that nobody touches."""

from collections.abc import Sequence
from typing import Annotated

import msgspec
from msgspec import Meta

from radiosim.signals.keys import FIELD_UNIT, EveryMs
from radiosim.signals.span import Span, clip


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
        Meta(
            description="Where the control stands; left out: the field's neutral",
            extra_json_schema=FIELD_UNIT,
        ),
    ] = None
    every_ms: EveryMs = 0.0

    def value_at(self, seconds: float, frame: int, span: Span) -> float:
        """The value, in the field's own unit."""
        if self.value is None:
            return clip(span.neutral, span.minimum, span.maximum)
        return self.value

    def values_at(self, seconds: Sequence[float], frames: Sequence[int], span: Span) -> list[float]:
        """`value_at` for each of some instants and frames."""
        return [self.value_at(0.0, 0, span)] * len(seconds)

    def extremes(self, span: Span) -> tuple[float, float]:
        """Lowest and highest value it takes."""
        value = self.value_at(0.0, 0, span)
        return value, value
