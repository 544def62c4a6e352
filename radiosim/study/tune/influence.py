"""Which settings matter most: shares of a result's variance that each explains.

Source: I. M. Sobol', "Sensitivity estimates for nonlinear mathematical models", Mathematical
Modelling and Computational Experiments 1, 1993: first-order and total indices. First-order ones
from given points: the variance of the mean in groups of one setting, over the whole variance (K.
Pearson's correlation ratio; E. Plischke, E. Borgonovo, C. L. Smith, European Journal of
Operational Research 226, 2013). From memory.
"""

import itertools
import math
from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass
from operator import itemgetter

MOST_GROUPS, LEAST_IN_GROUP = 16, 8
"""Of points that are no whole grid: neighbouring values are taken together."""
ON_A_GRID, SCATTERED, LEAST_SCATTERED = 3, 10, 3 * LEAST_IN_GROUP
"""Points that each setting needs for its share to mean anything: fewer always fit something.

Scattered ones must fill three groups besides (common practice, no source).
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Influence:
    """What one setting explains of the variance of the results."""

    first_order: float
    """By itself."""
    total: float | None
    """By itself and together with others; None: the points are no whole grid."""


def unknown_because(rows: Sequence[Sequence[float]], results: Sequence[float]) -> str:
    """Why nothing can be told of any setting; empty if it can."""
    settings = len(rows[0]) if rows else 0
    of_scattered = max(SCATTERED * settings, LEAST_SCATTERED)
    needed = ON_A_GRID * settings if is_grid(rows) else of_scattered
    if len(rows) < needed:
        return f"too few points to tell: {len(rows)}, where it takes {needed}"
    return "" if _varies(results) else "nothing to tell: the margin is the same everywhere"


def influences(rows: Sequence[Sequence[float]], results: Sequence[float]) -> tuple[Influence, ...]:
    """Of every setting, where each row has the values of one point.

    On a whole grid both shares are exact sums; elsewhere first-order shares are estimates.
    """
    count = len(rows[0]) if rows else 0
    is_whole = is_grid(rows)
    found = []
    for k in range(count):
        values = [row[k] for row in rows]
        others = [tuple(value for j, value in enumerate(row) if j != k) for row in rows]
        first = (
            _between(_by(values, results), results) if is_whole else first_order(values, results)
        )
        total = _within(_by(others, results), results) if is_whole else None
        found.append(Influence(first_order=first, total=total))
    return tuple(found)


def first_order(values: Sequence[float], results: Sequence[float]) -> float:
    """Share of the variance of results that one setting explains by itself; 0 without variance.

    What groups of chance alone would explain is taken off (Fisher's ε²: R. A. Fisher 1925, T. L.
    Kelley 1935).
    """
    n, groups = len(results), _groups(values, results)
    k = len(groups)
    if k < 2 or n <= k or not _varies(results):
        return 0.0
    between = _between(groups, results)
    return min(1.0, max(0.0, between - (k - 1) * (1 - between) / (n - k)))


def _varies(results: Sequence[float]) -> bool:
    return len(set(results)) > 1


def is_grid(rows: Sequence[Sequence[Hashable]]) -> bool:
    """Whether the points are all combinations of their values, each once."""
    levels = math.prod(len({row[k] for row in rows}) for k in range(len(rows[0]) if rows else 0))
    return len(rows) > 1 and len(set(map(tuple, rows))) == len(rows) == levels


def _between(groups: Iterable[Sequence[float]], results: Sequence[float]) -> float:
    """Share of the variance that lies between groups; 0 without variance."""
    if not _varies(results):
        return 0.0
    mean = math.fsum(results) / len(results)
    whole = math.fsum((result - mean) ** 2 for result in results)
    between = math.fsum(
        len(group) * (math.fsum(group) / len(group) - mean) ** 2 for group in groups
    )
    return between / whole if whole else 0.0


def _within(groups: Iterable[Sequence[float]], results: Sequence[float]) -> float:
    """Share of the variance that lies inside groups; 0 without variance."""
    return 1 - _between(groups, results) if _varies(results) else 0.0


def _by(keys: Sequence[Hashable], results: Sequence[float]) -> list[list[float]]:
    """Results in groups of equal keys."""
    found: dict[Hashable, list[float]] = {}
    for key, result in zip(keys, results, strict=True):
        found.setdefault(key, []).append(result)
    return list(found.values())


def _groups(values: Sequence[float], results: Sequence[float]) -> list[list[float]]:
    """Results in groups of neighbouring values, equal ones together."""
    least = max(LEAST_IN_GROUP, -(-len(results) // MOST_GROUPS))
    groups: list[list[float]] = []
    pairs = sorted(zip(values, results, strict=True), key=itemgetter(0))
    for _, same in itertools.groupby(pairs, key=itemgetter(0)):
        group = [result for _, result in same]
        if groups and len(groups[-1]) < least:
            groups[-1] += group
        else:
            groups.append(group)
    if len(groups) > 1 and len(groups[-1]) < least:
        last = groups.pop()
        groups[-1] += last
    return groups
