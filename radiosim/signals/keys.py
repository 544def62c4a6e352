"""Keys that several kinds of signal share."""

from typing import Annotated

from msgspec import Meta

FIELD_UNIT = {"unit": "the field's own"}

EveryMs = Annotated[
    float,
    Meta(
        ge=0,
        description="How often the control is read; 0: at every frame, more: a slow sensor",
        extra_json_schema={"unit": "ms"},
    ),
]

Amplitude = Annotated[
    Annotated[float, Meta(ge=0)] | None,
    Meta(
        description="How far it goes each way from its middle; left out: as far as the field goes",
        extra_json_schema=FIELD_UNIT,
    ),
]
