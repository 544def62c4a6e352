"""Kinds of number that the tables share, and the description of a key."""

from typing import Annotated, Literal

from msgspec import Meta, Struct

Positive = Annotated[float, Meta(gt=0)]
NotNegative = Annotated[float, Meta(ge=0)]
Share = Annotated[float, Meta(ge=0, le=1)]
PayloadBytes = Annotated[int, Meta(ge=1, le=32)]
ClockPpm = Annotated[float, Meta(ge=-100_000, le=100_000)]
PowerDbm = Annotated[float, Meta(ge=-60, le=30)]
Milliamperes = Annotated[float, Meta(ge=0, le=1_000_000)]
SpiHz = Annotated[float, Meta(ge=1_000, le=100_000_000)]
MOST_NAMED = 64
"""Tables of one kind: more than any board has pins."""
MOST_LISTED = 200
"""Faults and requirements: more than anybody reads the results of."""
MOST_WORKS = 64
"""Things that hold one program up: more than any has."""
Clock = Literal["crystal", "resonator", "internal"]
Drawn = Literal["drawn"]


class Table(Struct, frozen=True, forbid_unknown_fields=True):
    """One table of a scenario file; unknown keys are refused."""
