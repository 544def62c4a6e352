"""Bands that hold one more measurement, whatever the shape of its spread."""

import math
from collections.abc import Sequence

from radiosim.study.bench.step import SIMULATED, Aspect, Prediction, Source

WANTED = 0.95
STARTS = 39
"""The fewest of which lowest and highest hold 95 % of what comes next."""


def cut_of(count: int) -> int:
    """How many of `count` sorted values, from each end on, the band begins at: 1 is the outermost.

    The r-th lowest and r-th highest of n values hold the next with probability (n + 1 − 2r)/(n + 1)
    if all are drawn alike (S. S. Wilks, Ann. Math. Stat. 12 (1941); from memory).
    """
    return max(1, math.floor((count + 1) * (1 - WANTED) / 2 + 1e-9))


def share_of(count: int) -> float:
    """How often the band of `count` values holds the next, 0…1."""
    return (count + 1 - 2 * cut_of(count)) / (count + 1)


def band_of(
    what: str,
    values: Sequence[float],
    unit: str,
    resolution: float,
    *,
    of: str = "",
    aspect: Aspect = "value",
    source: Source = SIMULATED,
    text: str = "",
) -> Prediction:
    """The band of what one more start would give; ValueError without any value."""
    if not values:
        raise ValueError("no band of no values")
    ordered, cut = sorted(values), cut_of(len(values))
    return Prediction(
        what=what,
        of=of,
        aspect=aspect,
        low=ordered[cut - 1],
        high=ordered[-cut],
        unit=unit,
        resolution=resolution,
        source=source,
        tries=len(values),
        share=share_of(len(values)),
        text=text,
    )
