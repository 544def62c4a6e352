"""Keys that several kinds of signal share."""

from typing import Annotated

from msgspec import Meta

from radiosim.described import FIELD_UNIT, key

Positive = Annotated[float, Meta(gt=0)]
NotNegative = Annotated[float, Meta(ge=0)]

EveryMs = Annotated[
    NotNegative,
    key(
        "how often the control is read; 0: at every frame, more: a slow sensor",
        "ms",
        moves=("output.latency_ms", "output.servo_error_deg", "stream.age_ms"),
        measure=("the rate set in the sensor's registers, or how often the firmware asks it"),
    ),
]

Amplitude = Annotated[
    NotNegative | None,
    key(
        "how far it goes each way from its middle; left out: as far as the field goes",
        FIELD_UNIT,
        moves=("output.servo_error_deg",),
        measure="record the stick or the sensor and look at its ends",
    ),
]
