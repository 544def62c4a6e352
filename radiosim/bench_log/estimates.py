"""What records tell, as numbers with intervals of 95 %: pure functions of counts and instants."""

import math
from collections.abc import Sequence
from functools import cache

import numpy as np
import numpy.typing as npt
from msgspec import Struct
from scipy import stats

Numbers = npt.NDArray[np.float64]
Counts = npt.NDArray[np.int64]
MISS = 0.05
BLOCKS = 20
"""Parts of a log that are one observation each, where what is near in time hangs together."""

_MOST_ALIKE = 0.9
"""Of a correlation, beyond which twenty blocks tell little of a slope; our own choice."""
_NARROWED = 30
"""Steps, each to two thirds, in which the slope of a strip is found: to 5 parts in a million."""


class Estimate(Struct, frozen=True, kw_only=True):
    """A number and where it lies with a trust of 95 %."""

    value: float
    low: float
    high: float


class LossRuns(Struct, frozen=True, kw_only=True):
    """Whether losses come in runs."""

    share: Estimate
    """Of frames lost."""
    chance: float
    """Of evidence as strong, were losses independent."""
    run_frames: Estimate | None
    """Mean length of a run of losses; None: none, or independent."""
    apart_frames: Estimate | None
    """Mean length of a run without; None as above."""

    @property
    def is_in_runs(self) -> bool:
        """Whether two states explain them better than one."""
        return self.chance < MISS


def line(x: Sequence[float] | Numbers, y: Sequence[float] | Numbers) -> tuple[Estimate, float]:
    """Slope and intercept of a straight line through points; ValueError below three.

    Ordinary least squares, Student's t with n − 2 degrees of freedom. Source: textbook, as NIST/
    SEMATECH e-Handbook of Statistical Methods, 4.4.3.1 and 4.5.1.2; tests hold it to certified
    values.
    """
    across, up = np.asarray(x, float), np.asarray(y, float)
    if len(across) < 3:
        raise ValueError("a line with an interval needs three points")
    mean_x, mean_y = across.mean(), up.mean()
    square = float(((across - mean_x) ** 2).sum())
    slope = float(((across - mean_x) * (up - mean_y)).sum()) / square
    rest = up - mean_y - slope * (across - mean_x)
    error = math.sqrt(float((rest**2).sum()) / (len(across) - 2) / square)
    half = _students(len(across) - 2) * error
    at_zero = float(mean_y - slope * mean_x)
    return Estimate(value=slope, low=slope - half, high=slope + half), at_zero


def period_us(counts: Counts, t_us: Counts, *, adds_up: bool) -> Estimate | None:
    """Time from count to count, us; None where there is too little to tell.

    `adds_up`: whether one late sample makes all later ones late, as in a loop; else samples stand
    on a grid. On a grid: a line through the medians of twenty blocks, which neither retries nor
    waits for a pass bend (batch means; as A. M. Law, "Simulation Modeling and Analysis", 9.5.3,
    from memory). Where their residuals still hang together, as where samples drift slowly across
    passes, the interval is wider by √((1 + r)/(1 − r)) of their correlation r (M. S. Bartlett,
    J. R. Stat. Soc. Suppl. 8, 1946; from memory). Else the mean of blocks of time per count,
    Student's t.
    """
    if len(counts) < 3 * BLOCKS or counts[-1] <= counts[0]:
        return None
    if adds_up:
        ends = np.linspace(0, len(counts) - 1, BLOCKS + 1).astype(int)
        spans = np.diff(counts[ends])
        if (spans <= 0).any():
            return None
        return mean(np.diff(t_us[ends]) / spans)
    rough = float(t_us[-1] - t_us[0]) / float(counts[-1] - counts[0])
    rest = t_us - t_us[0] - rough * (counts - counts[0])
    blocks = np.array_split(np.arange(len(counts)), BLOCKS)
    across = np.array([counts[block].mean() for block in blocks])
    middle = np.array([np.median(rest[block]) for block in blocks])
    slope, at_zero = line(across, middle)
    wider = _wider(middle - at_zero - slope.value * across)
    low, high = (slope.value + wider * (end - slope.value) for end in (slope.low, slope.high))
    return Estimate(value=rough + slope.value, low=rough + low, high=rough + high)


def _wider(rest: Numbers) -> float:
    """By how much residuals of a line that hang together widen its slope's interval."""
    square = float((rest**2).sum())
    if not square:
        return 1.0
    found = float((rest[1:] * rest[:-1]).sum()) / square
    # Of few residuals of a line a correlation comes out too low by about this (F. H. C. Marriott,
    # J. A. Pope, Biometrika 41, 1954; from memory).
    near = min(_MOST_ALIKE, found + (1 + 3 * found) / len(rest))
    return math.sqrt((1 + near) / (1 - near)) if near > 0 else 1.0


def mean(values: Sequence[float] | Numbers) -> Estimate:
    """Mean of independent observations, two or more (Student, "The probable error of a mean",
    Biometrika 6, 1908)."""
    found = np.asarray(values, float)
    if len(found) < 2:
        raise ValueError("an interval of a mean needs two observations")
    middle, error = float(found.mean()), float(found.std(ddof=1)) / math.sqrt(len(found))
    half = _students(len(found) - 1) * error
    return Estimate(value=middle, low=middle - half, high=middle + half)


@cache
def _students(degrees: int) -> float:
    """What an interval's half is of the error, by degrees of freedom."""
    return float(stats.t.ppf(1 - MISS / 2, degrees))


def share(lost: int, sent: int) -> Estimate:
    """Share of independent trials (C. J. Clopper, E. S. Pearson, Biometrika 26, 1934)."""
    if sent < 1:
        raise ValueError("a share needs a trial")
    low = float(stats.beta.ppf(MISS / 2, lost, sent - lost + 1)) if lost else 0.0
    high = float(stats.beta.ppf(1 - MISS / 2, lost + 1, sent - lost)) if lost < sent else 1.0
    return Estimate(value=lost / sent, low=low, high=high)


def spread_us(counts: Counts, t_us: Counts) -> Estimate:
    """Width of an even spread about a grid of unknown period, us; ValueError below ten instants.

    The narrowest strip that holds all instants is no wider than the spread, and each of its three
    touching points lies inside the edge by about a spacing: the upper end leaves room for four
    (Beta(n − 3, 4) of its share; with the period known two spacings are exact: H. A. David, H. N.
    Nagaraja, "Order Statistics", 3rd ed., 2.5, from memory; for the strip derived, and counted in
    tests/bench_log). Instants are cut to whole microseconds, which may add or take one.
    """
    count = len(counts)
    if count < 10:
        raise ValueError("a spread needs ten instants")
    width = _strip_us(counts, t_us)
    part = float(stats.beta.ppf(MISS / 2, count - 3, 4))
    return Estimate(
        value=width * (count + 1) / (count - 2),
        low=max(0.0, width - 1),
        high=(width + 1) / part,
    )


def _strip_us(counts: Counts, t_us: Counts) -> float:
    """Width along time of the narrowest strip that holds all instants: convex in its slope."""
    across = (counts - counts[0]).astype(float)
    up = (t_us - t_us[0]).astype(float)
    middle = line(across, up)[0].value

    def width(slope: float) -> float:
        rest = up - (middle + slope) * across
        return float(rest.max() - rest.min())

    most = width(0.0) / max(float(across[-1]), 1.0)
    low, high = -most, most
    for _ in range(_NARROWED):
        third = (high - low) / 3
        if width(low + third) <= width(high - third):
            high -= third
        else:
            low += third
    return width((low + high) / 2)


def seen_of(counts: Counts) -> npt.NDArray[np.bool_]:
    """Of every count from first to last whether it came; duplicates count once."""
    seen = np.zeros(int(counts.max() - counts.min()) + 1, bool)
    seen[counts - counts.min()] = True
    return seen


def loss_runs(seen: npt.NDArray[np.bool_]) -> LossRuns:
    """Losses as independent, or as a chain of two states, by the ratio of their likelihoods.

    Twice the logarithm of the ratio is χ² with one degree of freedom where losses are independent
    (T. W. Anderson, L. A. Goodman, "Statistical inference about Markov chains", Ann. Math. Stat.
    28, 1957). Lengths of runs are geometric. In runs, the interval of the share comes from the
    spread of twenty blocks. ValueError below three frames.
    """
    if len(seen) < 3:
        raise ValueError("losses need three frames")
    lost = ~seen
    before, after = lost[:-1], lost[1:]
    table = [
        [int(np.count_nonzero((before == a) & (after == b))) for b in (False, True)]
        for a in (False, True)
    ]
    ratio = 2 * math.fsum(
        cell * math.log(cell * len(after) / (sum(row) * (table[0][b] + table[1][b])))
        for row in table
        for b, cell in enumerate(row)
        if cell
    )
    chance = float(stats.chi2.sf(max(ratio, 0.0), 1))
    count = int(lost.sum())
    is_in_runs = chance < MISS and table[1][1] > 0
    if not is_in_runs:
        whole = share(count, len(seen))
        return LossRuns(share=whole, chance=chance, run_frames=None, apart_frames=None)
    blocks = [float(block.mean()) for block in np.array_split(lost, min(BLOCKS, len(lost)))]
    spread = mean(blocks)
    whole = Estimate(value=count / len(lost), low=max(0.0, spread.low), high=min(1.0, spread.high))
    return LossRuns(
        share=whole,
        chance=chance,
        run_frames=_mean_run(share(table[1][0], sum(table[1]))),
        apart_frames=_mean_run(share(table[0][1], sum(table[0]))),
    )


def run_length(seen: npt.NDArray[np.bool_]) -> Estimate | None:
    """Mean length of losses in a row, each of which ends the run with the same chance; None if no
    frame after a lost one is known to have come."""
    lost = ~seen
    after = lost[1:][lost[:-1]]
    if not len(after):
        return None
    return _mean_run(share(int(np.count_nonzero(~after)), len(after)))


def _mean_run(ending: Estimate) -> Estimate | None:
    """Mean length of runs that end with a chance at each step."""
    if ending.value == 0 or ending.low == 0:
        return None
    return Estimate(value=1 / ending.value, low=1 / ending.high, high=1 / ending.low)


def quantile(values: Sequence[float] | Numbers, part: float) -> Estimate | None:
    """A quantile of independent values by its order statistics; None if they are too few.

    The ranks are binomial (as W. J. Conover, "Practical Nonparametric Statistics", 3rd ed., 3.2).
    """
    ordered = np.sort(np.asarray(values, float))
    count = len(ordered)
    low = int(stats.binom.ppf(MISS / 2, count, part)) - 1
    high = int(stats.binom.ppf(1 - MISS / 2, count, part))
    if low < 0 or high >= count:
        return None
    value = float(np.quantile(ordered, part, method="inverted_cdf"))
    return Estimate(value=value, low=float(ordered[low]), high=float(ordered[high]))
