"""Kinds of number that keys take, each with the lowest and the highest value that makes sense.

Time inside is whole nanoseconds: the shortest length of a kind is some of them, and the longest,
three years, leaves room for sums in 63 bits. Options that are numbers have their edges here too.
"""

import sys
from typing import Annotated, NamedTuple

from msgspec import Meta

LONGEST_S = LONGEST_MS = LONGEST_US = 100_000_000
MOST = 1e20
"""Of what a field of a frame stands for: no control has more, and sums stay exact to the digit
that is shown."""

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

NEAREST_M, FARTHEST_M = 0.001, 10_000_000
Metres = Annotated[float, Meta(ge=NEAREST_M, le=FARTHEST_M)]
Degrees = Annotated[float, Meta(ge=-36_000, le=36_000)]
PulseUs = Annotated[float, Meta(ge=0.001, le=1_000_000)]
Share = Annotated[float, Meta(ge=0, le=1)]
Value = Annotated[float, Meta(ge=-MOST, le=MOST)]
OnTheWire = Annotated[float, Meta(ge=-sys.float_info.max, le=sys.float_info.max)]
"""As far as the widest field carries, which is where one ends that says no end of its own."""
Swing = Annotated[float, Meta(ge=0, le=MOST)]


def edge_text(edge: float) -> str:
    """An edge as it is said: whole numbers to the last digit."""
    return str(edge) if isinstance(edge, int) else f"{edge:.12g}"


class Edges(NamedTuple):
    """Lowest and highest value of a number that is asked for."""

    low: float
    high: float

    def refusal(self, value: float) -> str:
        """What is wrong with a value; empty if it is between them."""
        if self.low <= value <= self.high:
            return ""
        low, high = edge_text(self.low), edge_text(self.high)
        return f"must be a number >= {low} and <= {high}, got {value:g}"


DURATION_S = Edges(0.001, LONGEST_S)
STARTS = Edges(1, 1_000_000)
SEED = Edges(0, 2**63 - 1)
RUN_HOURS = Edges(0.001, 1_000_000)
DRILL_HOURS = Edges(0.001, 100_000)
SPEED_M_S = Edges(0.001, 1_000)
NUISANCE_PER_HOUR = Edges(0.000_001, 1_000_000)
REACTION_MS = Edges(0.001, 3_600_000)
