"""Shares of variance of functions that have known ones, and of scipy's estimator.

Sources: I. M. Sobol', "Sensitivity estimates for nonlinear mathematical models", 1993; T.
Ishigami, T. Homma, ISUMA 1990; both from memory, the shares worked out from the formulas. The
g-function, the product of (|4 x - 2| + a) / (1 + a), has partial variances 1 / (3 (1 + a)²);
Ishigami's, sin x + 7 sin² y + 0.1 z⁴ sin x over ±pi, the shares 0.3139, 0.4424 and 0 alone.
"""

import functools
import itertools
import math

import numpy as np
import numpy.typing as npt
import pytest
from scipy import stats

from radiosim.study.tune.influence import Influence, first_order, influences
from tests.reference.outside import DERIVED_FROM_MEMORY, SECOND, check, outside
from tests.reference.sources import ISHIGAMI, LIBRARY, SOBOL

A = (0.0, 1.0, 9.0)
LEVELS = 16
PARTIAL = [1 / (3 * (1 + a) ** 2) for a in A]
WHOLE = math.prod(1 + part for part in PARTIAL) - 1


def ishigami(x: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """Three rows of numbers in ±pi."""
    value: npt.NDArray[np.float64] = (
        np.sin(x[0]) + 7 * np.sin(x[1]) ** 2 + 0.1 * x[2] ** 4 * np.sin(x[0])
    )
    return value


@functools.cache
def found_alone() -> tuple[float, ...]:
    """Ours, from points drawn at random."""
    draw = np.random.default_rng(5).uniform(-math.pi, math.pi, (3, 20_000))
    results = ishigami(draw).tolist()
    return tuple(first_order(draw[k].tolist(), results) for k in range(3))


@functools.cache
def found_on_a_grid() -> tuple[Influence, ...]:
    """Of the g-function."""
    levels = [(k + 0.5) / LEVELS for k in range(LEVELS)]
    rows = list(itertools.product(levels, repeat=3))
    return influences(
        rows,
        [
            math.prod((abs(4 * x - 2) + a) / (1 + a) for x, a in zip(row, A, strict=True))
            for row in rows
        ],
    )


@pytest.mark.slow
@pytest.mark.parametrize("setting", [0, 1, 2])
@outside(
    "share of variance alone, Ishigami's function",
    source=ISHIGAMI.key,
    status=DERIVED_FROM_MEMORY,
)
def test_shares_alone_from_random_points(setting: int) -> None:
    first, second = 7**2 / 8, 0.5 * (1 + 0.1 * math.pi**4 / 5) ** 2
    whole = first + second + 0.1**2 * math.pi**8 * (1 / 18 - 1 / 50)
    expected = (second / whole, first / whole, 0.0)[setting]

    # Sixteen groups of a smooth function leave out a few parts in a hundred.
    check.near(found_alone()[setting], expected, within=0.03)


@pytest.mark.slow
@pytest.mark.parametrize("setting", [0, 1, 2])
@outside(
    "share of variance alone, Ishigami's function, second opinion",
    source=LIBRARY.at("scipy"),
    status=SECOND,
)
def test_shares_alone_are_those_of_another_estimator(setting: int) -> None:
    uniform = [stats.uniform(loc=-math.pi, scale=2 * math.pi)] * 3
    theirs = stats.sobol_indices(func=ishigami, n=8_192, dists=uniform, rng=7)

    check.near(found_alone()[setting], float(theirs.first_order[setting]), within=0.04)


@pytest.mark.parametrize("setting", [0, 1, 2])
@pytest.mark.parametrize("kind", ["first order", "total"])
@outside(
    "share of variance on a grid, Sobol's g-function",
    source=SOBOL.key,
    status=DERIVED_FROM_MEMORY,
)
def test_shares_on_a_grid_are_exact_sums(setting: int, kind: str) -> None:
    share = found_on_a_grid()[setting]
    others = math.prod(1 + part for k, part in enumerate(PARTIAL) if k != setting)
    measured = share.first_order if kind == "first order" else share.total
    expected = PARTIAL[setting] * (1 if kind == "first order" else others) / WHOLE

    assert measured is not None
    # Midpoints of 16 cells leave out 1 part in 16² of a variance.
    check.near(measured, expected, within=0.008)
