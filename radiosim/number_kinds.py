"""Kinds of number that keys take, each with the lowest and the highest value that makes sense."""

import sys
from typing import Annotated

from msgspec import Meta

from radiosim.edges import FARTHEST_M, LONGEST_MS, LONGEST_S, LONGEST_US, MOST, NEAREST_M

TimeS = Annotated[float, Meta(ge=0, le=LONGEST_S)]
LengthS = Annotated[float, Meta(ge=0.000_001, le=LONGEST_S)]
TimeMs = Annotated[float, Meta(ge=0, le=LONGEST_MS)]
LengthMs = Annotated[float, Meta(ge=0.001, le=LONGEST_MS)]
TimeUs = Annotated[float, Meta(ge=0, le=LONGEST_US)]
LengthUs = Annotated[float, Meta(ge=0.001, le=LONGEST_US)]

TurnMs = Annotated[float, Meta(ge=0, le=60_000)]
"""Of a loop that something moves by: a minute at most."""
WaitMs = Annotated[float, Meta(ge=0, le=3_600_000)]
TimeoutMs = Annotated[float, Meta(ge=0.001, le=3_600_000)]
"""What is to notice something wrong: an hour at most."""

Metres = Annotated[float, Meta(ge=NEAREST_M, le=FARTHEST_M)]
Degrees = Annotated[float, Meta(ge=-36_000, le=36_000)]
PulseUs = Annotated[float, Meta(ge=0.001, le=1_000_000)]
Share = Annotated[float, Meta(ge=0, le=1)]
Value = Annotated[float, Meta(ge=-MOST, le=MOST)]
OnTheWire = Annotated[float, Meta(ge=-sys.float_info.max, le=sys.float_info.max)]
"""As far as the widest field carries, which is where one ends that says no end of its own."""
Swing = Annotated[float, Meta(ge=0, le=MOST)]
