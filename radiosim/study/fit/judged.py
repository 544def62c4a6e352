"""Whether figures of a log are what simulated logs of the scenario show."""

import math
from collections.abc import Mapping, Sequence

from msgspec import Struct
from msgspec.structs import replace

from radiosim.study.bench.step import predicted_range
from radiosim.study.fit.figure import Figure, Values

MISS = 0.05
"""Chance of a false alarm over all figures together."""
_STARTS_A_FIGURE = 40
"""With n starts the smallest chance is 2/(n + 1): that of one figure of m must reach MISS/m."""


class Judged(Struct, frozen=True, kw_only=True):
    """One figure of a log beside its predicted range."""

    key: str
    of: str
    what: str
    unit: str
    measured: float
    low: float | None
    """Of the predicted range, which holds 95 % of such figures; None: simulated logs have none, as
    of losses in a row where hardly anything is lost."""
    high: float | None
    chance: float
    """Of a figure as far out or further, on either side, if all is as the scenario says."""
    is_held: bool
    """Judged over all figures: one false alarm in twenty logs."""
    resolution: float
    """Of the log: closer values are equal."""
    slack: int = 0
    """Steps of the resolution by which equal ones may differ."""
    measured_low: float | None = None
    measured_high: float | None = None


FIRST_STARTS = 159
_NEAR = 2
"""Where each figure has so many simulated ones beyond it on both sides, none is out: no more starts
are made. That never makes a false alarm, for an alarm takes them all."""


def is_clear(figures: Mapping[str, Figure], simulated: Sequence[Values]) -> bool:
    """Whether no figure can miss, however many more starts are simulated."""
    least = 2 * (1 + _NEAR) / (len(simulated) + 1)
    return all(
        chance_of(figure.value, _there(key, simulated), figure.resolution, figure.slack) >= least
        for key, figure in figures.items()
    )


def _there(key: str, simulated: Sequence[Values]) -> list[float]:
    return [values.get(key, -math.inf) for values in simulated]


def starts_for(figures: int) -> int:
    """How many starts it takes to judge so many figures together."""
    return _STARTS_A_FIGURE * max(1, figures) - 1


def judged(figures: Mapping[str, Figure], simulated: Sequence[Values]) -> tuple[Judged, ...]:
    """Every figure beside its predicted range, and whether it held.

    A rank among n starts that are drawn alike has its chance whatever the distribution; over all
    figures by S. Holm, "A simple sequentially rejective multiple test procedure", Scand. J. Stat.
    6 (1979). A figure that a simulated log lacks counts as below all others there.
    """
    rows = []
    for key, figure in figures.items():
        there = _there(key, simulated)
        have = [value for value in there if math.isfinite(value)]
        low, high = None, None
        if have:
            prediction = predicted_range(figure.what, have, figure.unit, figure.resolution)
            low, high = prediction.low, prediction.high
        rows.append(
            Judged(
                key=key,
                of=figure.of,
                what=figure.what,
                unit=figure.unit,
                measured=figure.value,
                low=low,
                high=high,
                chance=chance_of(figure.value, there, figure.resolution, figure.slack),
                slack=figure.slack,
                is_held=True,
                resolution=figure.resolution,
                measured_low=None if figure.estimate is None else figure.estimate.low,
                measured_high=None if figure.estimate is None else figure.estimate.high,
            )
        )
    missed = holm([row.chance for row in rows], MISS)
    return tuple(replace(row, is_held=place not in missed) for place, row in enumerate(rows))


def chance_of(value: float, simulated: Sequence[float], resolution: float, slack: int = 0) -> float:
    """Twice the smaller share of values as far out as one more, itself among them; at most 1.

    Values that a log does not tell apart are equal, such as those within `slack` steps: with more
    of them a chance is no smaller.
    """
    here, *there = (_step_of(one, resolution) for one in (value, *simulated))
    below = 1 + sum(other <= here + slack for other in there)
    above = 1 + sum(other >= here - slack for other in there)
    return min(1.0, 2 * min(below, above) / (len(simulated) + 1))


def _step_of(value: float, resolution: float) -> float:
    return round(value / resolution) if math.isfinite(value) else value


def holm(chances: Sequence[float], miss: float) -> set[int]:
    """Places of the chances that are too small, with a chance of `miss` for any by accident."""
    order = sorted(range(len(chances)), key=lambda place: chances[place])
    missed: set[int] = set()
    for rank, place in enumerate(order):
        # A whole number over a whole number may miss its equal by a float's last digit.
        if chances[place] * (len(chances) - rank) > miss * (1 + 1e-9):
            break
        missed.add(place)
    return missed
