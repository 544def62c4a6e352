"""Estimators beside certified values, a reference library and what was put in."""

import numpy as np
import pytest
from scipy import stats

from radiosim.bench_log.estimates import (
    line,
    loss_runs,
    mean,
    period_us,
    quantile,
    seen_of,
    share,
    spread_us,
)

# NIST Statistical Reference Datasets, linear regression, "Norris" (calibration of ozone monitors),
# 36 observations with certified values; both from memory, so that each vouches for the other: a
# wrong digit in the data would not give the certified slope.
NORRIS_Y = (
    *(0.1, 338.8, 118.1, 888.0, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3),
    *(0.1, 778.1, 668.8, 339.3, 448.9, 10.8, 557.7, 228.3, 998.0, 888.8, 119.6, 0.3),
    *(0.6, 557.6, 339.3, 888.0, 998.5, 778.9, 10.2, 117.6, 228.9, 668.4, 449.2, 0.2),
)
NORRIS_X = (
    *(0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777.0, 558.2, 0.4),
    *(0.6, 775.5, 666.9, 338.0, 447.5, 11.6, 556.0, 228.1, 995.8, 887.6, 120.2, 0.3),
    *(0.3, 556.8, 339.1, 887.2, 999.0, 779.0, 11.1, 118.3, 229.2, 669.1, 448.9, 0.5),
)


def test_a_line_has_the_certified_slope_and_intercept() -> None:
    slope, at_zero = line(NORRIS_X, NORRIS_Y)

    assert slope.value == pytest.approx(1.00211681802045, abs=1e-12)
    assert at_zero == pytest.approx(-0.262323073774029, abs=1e-10)
    half = stats.t.ppf(0.975, 34) * 0.429796848199937e-3
    assert slope.high - slope.value == pytest.approx(half, rel=1e-9)


def test_a_line_is_the_reference_librarys() -> None:
    found = stats.linregress(NORRIS_X, NORRIS_Y)

    assert line(NORRIS_X, NORRIS_Y)[0].value == pytest.approx(found.slope, abs=1e-12)


def test_a_share_has_the_exact_interval() -> None:
    # C. J. Clopper, E. S. Pearson (1934), as scipy's binomtest computes it.
    for lost, sent in ((0, 20), (3, 10), (7, 1000), (20, 20)):
        exact = stats.binomtest(lost, sent).proportion_ci(0.95, method="exact")
        found = share(lost, sent)
        assert (found.low, found.high) == pytest.approx((exact.low, exact.high), abs=1e-12)


def test_a_mean_has_students_interval() -> None:
    # Student, "The probable error of a mean", Biometrika 6 (1908): additional hours of sleep by
    # the second drug, mean 2.33 and standard deviation 2.002 of ten patients; from memory.
    sleep = [1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4]

    found = mean(sleep)

    reference = stats.ttest_1samp(sleep, 0).confidence_interval(0.95)
    assert found.value == pytest.approx(2.33)
    assert (found.low, found.high) == pytest.approx((reference.low, reference.high))


def test_losses_that_hang_together_are_known_from_independent_ones() -> None:
    rng = np.random.default_rng(4)
    alone = rng.random(20_000) > 0.1
    lost = np.zeros(20_000, bool)
    for place in range(1, len(lost)):
        lost[place] = rng.random() < (0.75 if lost[place - 1] else 0.02)

    apart, runs = loss_runs(alone), loss_runs(~lost)

    assert not apart.is_in_runs
    assert apart.share.low < 0.1 < apart.share.high
    assert runs.is_in_runs
    assert runs.run_frames is not None
    assert runs.apart_frames is not None
    # Lengths of runs are geometric: means 1/(1 − 0.75) and 1/0.02.
    assert runs.run_frames.low < 4 < runs.run_frames.high
    assert runs.apart_frames.low < 50 < runs.apart_frames.high


def test_the_evidence_of_runs_is_that_of_a_table_of_two_by_two() -> None:
    # The likelihood ratio of a chain against independence is G of its table of transitions.
    seen = np.random.default_rng(1).random(5_000) > 0.3
    before, after = seen[:-1], seen[1:]
    table = [[int((~(before ^ a) & ~(after ^ b)).sum()) for b in (True, False)] for a in (1, 0)]

    g = stats.chi2_contingency(table, correction=False, lambda_="log-likelihood")

    assert loss_runs(seen).chance == pytest.approx(g.pvalue, rel=1e-9)


def covers(make, true: float, tries: int = 100) -> int:  # type: ignore[no-untyped-def]
    """How many intervals of 95 % hold what was put in."""
    found = [make(np.random.default_rng(seed)) for seed in range(tries)]
    return sum(one.low <= true <= one.high for one in found)


NEARLY_ALL = 86
"""Of 100 with a chance of 0.95 each: fewer with a chance of 1e-4 (binomial)."""


def test_intervals_of_a_period_cover_on_a_grid_that_reads_come_late_to() -> None:
    counts = np.flatnonzero(np.random.default_rng(9).random(1_000) > 0.05)

    def made(rng: np.random.Generator):  # type: ignore[no-untyped-def]
        t_us = counts * 20_013.0 + rng.uniform(0, 2_000, len(counts))
        t_us += np.where(rng.random(len(counts)) < 0.1, rng.uniform(0, 15_000, len(counts)), 0)
        found = period_us(counts, np.sort(t_us).astype(np.int64), adds_up=False)
        assert found is not None
        return found

    held = covers(made, 20_013.0)

    assert held >= NEARLY_ALL


def test_intervals_of_a_period_cover_where_lateness_adds_up() -> None:
    counts = np.arange(2_000)

    def made(rng: np.random.Generator):  # type: ignore[no-untyped-def]
        t_us = np.cumsum(rng.uniform(20_000, 22_000, len(counts))).astype(np.int64)
        found = period_us(counts, t_us, adds_up=True)
        assert found is not None
        return found

    assert covers(made, 21_000.0) >= NEARLY_ALL


def test_intervals_of_a_spread_and_a_quantile_cover() -> None:
    counts = np.arange(200)

    def spread(rng: np.random.Generator):  # type: ignore[no-untyped-def]
        return spread_us(counts, (counts * 20_013.4 + rng.uniform(0, 800, 200)).astype(np.int64))

    spreads = covers(spread, 800)
    medians = covers(lambda rng: quantile(rng.exponential(1, 200), 0.5), np.log(2))

    assert spreads >= NEARLY_ALL
    assert medians >= NEARLY_ALL


def test_too_little_is_told_not_guessed() -> None:
    assert period_us(np.arange(59), np.arange(59) * 20_000, adds_up=False) is None
    assert quantile([1.0, 2.0, 3.0], 0.99) is None
    with pytest.raises(ValueError, match="three points"):
        line([1, 2], [1, 2])


def test_a_late_instant_is_all_that_spreads() -> None:
    counts, late = np.arange(1_000), np.zeros(1_000, np.int64)
    late[500] = 7_000

    assert spread_us(counts, counts * 20_000 + late).low == pytest.approx(6_999, abs=1)
    assert spread_us(counts, counts * 20_000).value < 1
    assert seen_of(np.array([3, 4, 7, 4])).tolist() == [True, True, False, False, True]
