"""The lowest and the highest values that make sense, of options and of kinds of keys.

Time inside is whole nanoseconds: the shortest length of a kind is some of them, and the longest,
three years, leaves room for sums in 63 bits.
"""

from typing import NamedTuple

LONGEST_S = LONGEST_MS = LONGEST_US = 100_000_000
NEAREST_M, FARTHEST_M = 0.001, 10_000_000
MOST = 1e20
"""Of what a field of a frame stands for: no control has more, and sums stay exact to the digit
that is shown."""


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
