"""Intervals of 95 %, or of another trust, for counts, ratios and rates.

Sources: E. B. Wilson, "Probable inference", JASA 22 (1927); F. Garwood, "Fiducial limits for the
Poisson distribution", Biometrika 28 (1936); ratio over clusters: W. G. Cochran, "Sampling
Techniques", 3rd ed. (1977), 2.11 (ratio estimator, linearised variance), from memory.
"""

import math
from collections.abc import Sequence

from radiosim.measure.quantiles import (
    gamma_chance,
    gamma_quantile,
    normal_quantile,
    student_t_quantile,
)

MISS = 0.05
"""Share of intervals that may miss what they are for."""
FEW = 50
"""Events whose spread over starts is not yet trusted alone."""
FEWEST_WEIGHTED = 12
"""Starts from which on those that are weighted have an interval of a share: a third of them is
placed on beats, and of fewer it missed what is true more often than it says (counted in
tests/study/coverage: 16 times of 100 with 6 starts of a mixed link, 8 with 9, 2 with 12)."""
_NEAR = 1e-6
"""Share of a limit within which a rate is at it: no time would tell them apart."""
_MANY = 1e-3
"""Share of a limit within which it takes millions of events to tell the side of a rate."""


def wilson(successes: float, trials: float, miss: float = MISS) -> tuple[float, float]:
    """Interval of a share of independent trials; (0, 1) without trials."""
    if trials == 0:
        return 0.0, 1.0
    z = normal_quantile(1 - miss / 2)
    z2, share = z**2, successes / trials
    centre = (share + z2 / (2 * trials)) / (1 + z2 / trials)
    half = z / (1 + z2 / trials)
    half *= math.sqrt(share * (1 - share) / trials + z2 / (4 * trials**2))
    low = 0.0 if successes == 0 else centre - half
    high = 1.0 if successes == trials else centre + half
    return low, high


def ratio_over_starts(
    counts: Sequence[float], bases: Sequence[float], miss: float = MISS
) -> tuple[float, float] | None:
    """Interval of sum(counts)/sum(bases), each start one observation; None below two starts.

    What happens inside a start hangs together (bursts), so the spread between starts counts.
    Student's t with starts − 1 degrees of freedom. Not clipped; no width if no start differs.
    """
    starts, base = len(counts), math.fsum(bases)
    if starts < 2 or base <= 0:
        return None
    ratio = math.fsum(counts) / base
    squares = math.fsum((c - ratio * b) ** 2 for c, b in zip(counts, bases, strict=True))
    error = math.sqrt(squares / (starts - 1) * starts) / base
    half = student_t_quantile(starts - 1, 1 - miss / 2) * error
    return ratio - half, ratio + half


def about_mean(
    deviations: Sequence[float], low: float, high: float, miss: float = MISS
) -> tuple[float, float]:
    """Interval of a mean, less the mean of some starts, from how far each is off; two or more.

    Student's t, and never narrower than with one more start that is off by `low` or by `high`:
    where most starts are alike and a few far off, those at hand may have too few of these, and
    their spread says nothing of it (derived; its coverage is counted in tests/study/coverage).
    """

    def ends(values: Sequence[float]) -> tuple[float, float]:
        starts, mean = len(values), math.fsum(values) / len(values)
        squares = math.fsum((value - mean) ** 2 for value in values)
        error = math.sqrt(squares / (starts - 1) / starts)
        half = student_t_quantile(starts - 1, 1 - miss / 2) * error
        return mean - half, mean + half

    found = ends(deviations)
    lower, higher = ends([*deviations, low])[0], ends([*deviations, high])[1]
    return min(found[0], lower), max(found[1], higher)


def is_too_few(weights: Sequence[float]) -> bool:
    """Whether starts with these weights are too few for an interval of a share or a ratio."""
    return len(weights) < FEWEST_WEIGHTED and len(set(weights)) > 1


def share_over_starts(
    counts: Sequence[float], bases: Sequence[float], miss: float = MISS
) -> tuple[float, float] | None:
    """Interval of a share, within 0…1; Wilson's where the starts show no spread at all.

    Counts and bases may be weighted: then no spread at all comes only with none or all.
    """
    interval = ratio_over_starts(counts, bases, miss)
    if interval is None:
        return None
    count, base = math.fsum(counts), math.fsum(bases)
    if all(c * base == b * count for c, b in zip(counts, bases, strict=True)):
        return wilson(count, base, miss)
    return max(0.0, interval[0]), min(1.0, interval[1])


def weighted_poisson(
    counts: Sequence[float], spans: Sequence[float], weights: Sequence[float], miss: float = MISS
) -> tuple[float, float]:
    """Interval of a rate of events, each by itself, of starts that are weighted.

    Garwood's where all weights are alike. Source: M. P. Fay, E. J. Feuer, "Confidence intervals
    for directly standardized rates: a method based on the gamma distribution", Statistics in
    Medicine 16 (1997), from memory. With no event the limit holds whatever starts the events hide
    in: those that count most.
    """
    total = math.fsum(w * span for w, span in zip(weights, spans, strict=True))
    each = [w / total for w in weights]
    rate = math.fsum(e * count for e, count in zip(each, counts, strict=True))
    variance = math.fsum(e**2 * count for e, count in zip(each, counts, strict=True))
    most = max(each)
    low = 0.0
    if variance > 0:
        low = variance / rate * gamma_quantile(rate**2 / variance, miss / 2)
    rate, variance = rate + most, variance + most**2
    return low, variance / rate * gamma_quantile(rate**2 / variance, 1 - miss / 2)


def rate_over_starts(
    counts: Sequence[int], spans: Sequence[float], weights: Sequence[float], miss: float = MISS
) -> tuple[float, float] | None:
    """Interval of a rate of events per unit of `spans`, starts weighted; None for lack of starts.

    With few events never narrower than if they came one by one: the spread that a handful of them
    shows by chance says less than their number does.
    """
    events = math.fsum(counts)
    if events == 0 or len(set(zip(counts, spans, weights, strict=True))) == 1:
        return weighted_poisson(counts, spans, weights, miss)
    interval = ratio_over_starts(
        [w * count for w, count in zip(weights, counts, strict=True)],
        [w * span for w, span in zip(weights, spans, strict=True)],
        miss,
    )
    if interval is None:
        return None
    low, high = max(0.0, interval[0]), interval[1]
    if events >= FEW:
        return low, high
    alone = weighted_poisson(counts, spans, weights, miss)
    return min(low, alone[0]), max(high, alone[1])


def hours_to_tell(per_hour: float, limit_per_hour: float) -> float | None:
    """Hours after which a rate seen so far would tell the side of a limit; None: none would.

    Independent events at that rate (Garwood), so a lower limit where they come in bursts.
    """
    if abs(per_hour - limit_per_hour) <= _NEAR * limit_per_hour or limit_per_hour <= 0:
        return None
    apart = abs(per_hour - limit_per_hour)
    if apart < _MANY * limit_per_hour:
        # Millions of events are as good as normal.
        return (normal_quantile(1 - MISS / 2) / apart) ** 2 * limit_per_hour
    is_below = per_hour < limit_per_hour

    def tells(hours: float) -> bool:
        count = per_hour * hours
        if is_below:
            return gamma_chance(count + 1, limit_per_hour * hours) >= 1 - MISS / 2
        return gamma_chance(count, limit_per_hour * hours) < MISS / 2

    high = 1 / limit_per_hour
    while not tells(high):
        high *= 2
    low = 0.0
    while high - low > 0.001 * high:
        middle = (low + high) / 2
        low, high = (low, middle) if middle > 0 and tells(middle) else (middle, high)
    return high
