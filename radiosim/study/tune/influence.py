"""Which settings matter most: shares of a result's variance that each explains.

Source: I. M. Sobol', "Sensitivity estimates for nonlinear mathematical models", Mathematical
Modelling and Computational Experiments 1, 1993: first-order and total indices. First-order ones
from given points: the variance of the mean in groups of one setting, over the whole variance (K.
Pearson's correlation ratio; E. Plischke, E. Borgonovo, C. L. Smith, European Journal of
Operational Research 226, 2013). From memory.
"""

import math
from collections.abc import Hashable, Mapping, Sequence

GROUPS = 16
"""At most; each of the same size."""


def first_order(values: Sequence[float], results: Sequence[float]) -> float:
    """Share of the variance of results that one setting's values explain alone; 0 without variance.

    Groups are of equal values, or of neighbours where values are many. What groups of chance
    alone would explain is taken off (Fisher's ε²: R. A. Fisher 1925, T. L. Kelley 1935).
    """
    n = len(results)
    mean = math.fsum(results) / n if n else 0.0
    whole = math.fsum((result - mean) ** 2 for result in results)
    if n < 3 or whole == 0:
        return 0.0
    groups = _groups(values, results)
    between = math.fsum(
        len(group) * (math.fsum(group) / len(group) - mean) ** 2 for group in groups
    )
    k = len(groups)
    if k < 2 or n <= k:
        return 0.0
    within = (whole - between) / (n - k)
    return min(1.0, max(0.0, (between - (k - 1) * within) / whole))


def total(rows: Sequence[Sequence[float]], results: Sequence[float], setting: int) -> float | None:
    """Share of the variance in which one setting has a part, alone or together with others.

    What varies while all others stand still: known only where the points are a whole grid, each
    combination once; None elsewhere.
    """
    levels = math.prod(len({row[k] for row in rows}) for k in range(len(rows[0]) if rows else 0))
    if len(rows) < 2 or len(set(map(tuple, rows))) != len(rows) or len(rows) != levels:
        return None
    mean = math.fsum(results) / len(results)
    whole = math.fsum((result - mean) ** 2 for result in results)
    others = [tuple(value for k, value in enumerate(row) if k != setting) for row in rows]
    inside = math.fsum(_squares(group) for group in _by(others, results).values())
    return inside / whole if whole else 0.0


def _squares(group: Sequence[float]) -> float:
    mean = math.fsum(group) / len(group)
    return math.fsum((result - mean) ** 2 for result in group)


def _by(keys: Sequence[Hashable], results: Sequence[float]) -> Mapping[Hashable, list[float]]:
    found: dict[Hashable, list[float]] = {}
    for key, result in zip(keys, results, strict=True):
        found.setdefault(key, []).append(result)
    return found


def _groups(values: Sequence[float], results: Sequence[float]) -> list[list[float]]:
    found = _by(values, results)
    if len(found) <= GROUPS:
        return list(found.values())
    order = sorted(range(len(values)), key=lambda k: values[k])
    size = -(-len(order) // GROUPS)
    return [
        [results[k] for k in order[first : first + size]] for first in range(0, len(order), size)
    ]
