"""Which settings matter most: shares of a result's variance that each explains alone.

First-order indices from given data: the variance of the mean in groups of one setting, over the
whole variance (K. Pearson's correlation ratio; as an estimator of Sobol' indices: E. Plischke,
E. Borgonovo, C. L. Smith, European Journal of Operational Research 226, 2013; from memory).
"""

from collections.abc import Sequence

GROUPS = 16
"""At most; each of the same size."""


def first_order(values: Sequence[float], results: Sequence[float]) -> float:
    """Share of the variance of results that one setting's values explain; 0 without variance.

    Groups are of equal values, or of neighbours where values are many. What groups of chance
    alone would explain is taken off (Fisher's ε²: R. A. Fisher 1925, T. L. Kelley 1935).
    """
    n = len(results)
    mean = sum(results) / n if n else 0.0
    whole = sum((result - mean) ** 2 for result in results)
    if n < 3 or whole == 0:
        return 0.0
    groups = _groups(values, results)
    between = sum(len(group) * (sum(group) / len(group) - mean) ** 2 for group in groups)
    k = len(groups)
    if k < 2 or n <= k:
        return 0.0
    within = (whole - between) / (n - k)
    return min(1.0, max(0.0, (between - (k - 1) * within) / whole))


def _groups(values: Sequence[float], results: Sequence[float]) -> list[list[float]]:
    levels = sorted(set(values))
    if len(levels) <= GROUPS:
        return [[r for v, r in zip(values, results, strict=True) if v == level] for level in levels]
    order = sorted(range(len(values)), key=lambda k: values[k])
    size = -(-len(order) // GROUPS)
    return [
        [results[k] for k in order[first : first + size]] for first in range(0, len(order), size)
    ]
