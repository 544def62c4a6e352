"""Intervals against printed values and against scipy."""

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy import stats

from radiosim.measure.intervals import (
    FEW,
    FEWEST_WEIGHTED,
    about_mean,
    is_too_few,
    rate_over_starts,
    ratio_over_starts,
    share_over_starts,
    weighted_poisson,
    wilson,
)

counts = st.integers(0, 2_000)


# Wilson (1927), status of the figures: computed independently, to the digits shown.
@pytest.mark.parametrize(
    ("successes", "trials", "low", "high"),
    [(10, 100, 0.05523, 0.1744), (0, 100, 0.0, 0.03699), (100, 100, 0.96301, 1.0)],
)
def test_wilson_as_printed(successes: int, trials: int, low: float, high: float) -> None:
    assert wilson(successes, trials) == pytest.approx((low, high), rel=5e-4)


@given(st.integers(1, 5_000), st.data())
def test_wilson_as_scipy_has_it(trials: int, data: st.DataObject) -> None:
    successes = data.draw(st.integers(0, trials))

    wanted = stats.binomtest(successes, trials).proportion_ci(0.95, "wilson")

    assert wilson(successes, trials) == pytest.approx((wanted.low, wanted.high), abs=1e-9)


def test_without_trials_a_share_may_be_anything() -> None:
    assert wilson(0, 0) == (0.0, 1.0)


# Garwood (1936).
@pytest.mark.parametrize(("count", "low", "high"), [(0, 0.0, 3.689), (5, 1.623, 11.67)])
def test_garwood_as_printed(count: int, low: float, high: float) -> None:
    assert weighted_poisson([count], [1.0], [1.0]) == pytest.approx((low, high), rel=5e-4)


def to_millionths(low: float, high: float) -> st.SearchStrategy[float]:
    """Numbers that are the same or clearly not: scipy warns of others."""
    return st.floats(low, high).map(lambda value: round(value, 6))


@given(
    st.lists(to_millionths(-100, 100), min_size=2, max_size=30),
    to_millionths(0, 200),
    to_millionths(0, 200),
)
def test_a_mean_is_no_surer_than_with_one_more_start(
    values: list[float], low: float, high: float
) -> None:
    """Second opinion: scipy's interval of Student's t, without that start and with it."""

    def ends(of: list[float]) -> tuple[float, float]:
        if len(set(of)) == 1:
            return of[0], of[0]
        found = stats.t.interval(0.95, len(of) - 1, loc=stats.tmean(of), scale=stats.sem(of))
        return float(found[0]), float(found[1])

    found = about_mean(values, -low, high)

    plain = ends(values)
    assert found[0] == pytest.approx(min(plain[0], ends([*values, -low])[0]), abs=1e-6)
    assert found[1] == pytest.approx(max(plain[1], ends([*values, high])[1]), abs=1e-6)


def test_a_seldom_jump_that_no_start_shows_is_still_possible() -> None:
    # Ten starts, a jump by 20 in one of twenty: the mean is 1.
    low, high = about_mean([0.0] * 10, -20.0, 20.0)

    assert low < -1
    assert high > 1


@given(counts)
def test_garwood_as_the_chi_square_has_it(count: int) -> None:
    low = stats.chi2.ppf(0.025, 2 * count) / 2 if count else 0.0
    high = stats.chi2.ppf(0.975, 2 * count + 2) / 2

    assert weighted_poisson([count], [1.0], [1.0]) == pytest.approx((low, high), rel=1e-9)


def test_one_start_has_no_interval() -> None:
    assert ratio_over_starts([5], [10]) is None
    assert share_over_starts([5], [10]) is None
    assert ratio_over_starts([0, 0], [0, 0]) is None


@given(st.lists(st.floats(0, 1_000), min_size=2, max_size=30), st.floats(1, 100))
def test_over_equal_starts_it_is_the_t_interval_of_their_mean(
    values: list[float], base: float
) -> None:
    mean = sum(values) / len(values) / base
    error = stats.sem(values) / base
    half = stats.t.ppf(0.975, len(values) - 1) * error

    interval = ratio_over_starts(values, [base] * len(values))

    assert interval == pytest.approx((mean - half, mean + half), rel=1e-6, abs=1e-6)


@pytest.mark.parametrize("starts", [2, FEWEST_WEIGHTED - 1, FEWEST_WEIGHTED])
def test_few_starts_have_an_interval_only_if_they_count_alike(starts: int) -> None:
    assert not is_too_few([1.0] * starts)
    assert is_too_few([0.5] + [1.2] * (starts - 1)) == (starts < FEWEST_WEIGHTED)


def test_a_spell_in_one_start_makes_the_interval_wide() -> None:
    burst = rate_over_starts([80, 0, 0, 0, 0, 0, 0, 0], [1.0] * 8, [1.0] * 8)
    even = rate_over_starts([10, 11, 9, 10, 10, 11, 9, 10], [1.0] * 8, [1.0] * 8)
    poisson = weighted_poisson([80], [1.0], [1.0])

    assert burst is not None
    assert even is not None
    assert burst[1] - burst[0] > (poisson[1] - poisson[0]) / 8 > even[1] - even[0]


def test_a_rate_is_never_negative() -> None:
    interval = rate_over_starts([40, 0, 0, 0], [1.0] * 4, [1.0] * 4)

    assert interval is not None
    assert interval[0] == 0.0


def test_no_event_at_all_is_judged_by_exact_poisson() -> None:
    interval = rate_over_starts([0, 0, 0], [0.5, 0.5, 1.0], [1.0, 1.0, 1.0])

    assert interval == pytest.approx((0.0, 3.689 / 2), rel=5e-4)


def test_no_event_in_weighted_starts_counts_the_heaviest() -> None:
    # Two hours that count 1.5 and 0.5: had the rate been 3.689 / 2 in the heavier alone ...
    interval = rate_over_starts([0, 0], [1.0, 1.0], [1.5, 0.5])

    assert interval == pytest.approx((0.0, 1.5 * 3.689 / 2), rel=5e-4)


@given(st.lists(st.integers(0, 6), min_size=2, max_size=12))
def test_a_rate_of_equal_starts_is_never_surer_than_its_count(counts: list[int]) -> None:
    assume(sum(counts) < FEW)
    interval = rate_over_starts(counts, [1.0] * len(counts), [1.0] * len(counts))
    low, high = weighted_poisson([sum(counts)], [1.0], [1.0])

    assert interval is not None
    assert interval[0] <= low / len(counts) * (1 + 1e-9)
    assert interval[1] >= high / len(counts) * (1 - 1e-9)


@given(st.data())
def test_one_more_trip_never_lowers_the_limit_of_trips_that_come_alone(data: st.DataObject) -> None:
    weights = data.draw(st.lists(st.floats(0.2, 3.0), min_size=2, max_size=8))
    counts = [data.draw(st.integers(0, 5)) for _ in weights]
    spans = [1.0] * len(weights)
    more = [counts[0] + 1, *counts[1:]]

    assert weighted_poisson(more, spans, weights)[1] >= weighted_poisson(counts, spans, weights)[1]


def test_weights_move_a_rate_to_the_starts_that_count() -> None:
    heavy_first = rate_over_starts([150, 140, 148, 142], [1.0] * 4, [1.5, 0.5, 1.5, 0.5])
    heavy_last = rate_over_starts([150, 140, 148, 142], [1.0] * 4, [0.5, 1.5, 0.5, 1.5])

    assert heavy_first is not None
    assert heavy_last is not None
    assert sum(heavy_first) / 2 == pytest.approx((225 + 70 + 222 + 71) / 4)
    assert sum(heavy_last) / 2 == pytest.approx((75 + 210 + 74 + 213) / 4)


def test_a_share_stays_within_its_ends() -> None:
    interval = share_over_starts([100, 100, 60], [100, 100, 100])

    assert interval is not None
    assert interval[1] == 1.0
    assert interval[0] < 260 / 300


@given(
    st.integers(1, 200), st.integers(1, 200), st.lists(st.integers(1, 30), min_size=2, max_size=9)
)
def test_a_share_without_any_spread_is_wilsons(
    successes: int, failures: int, multiples: list[int]
) -> None:
    trials = successes + failures
    found = share_over_starts([successes * m for m in multiples], [trials * m for m in multiples])

    assert found == wilson(successes * sum(multiples), trials * sum(multiples))


@given(st.lists(st.tuples(st.integers(0, 50), st.integers(50, 99)), min_size=2, max_size=20))
def test_the_ratio_lies_in_its_interval(pairs: list[tuple[int, int]]) -> None:
    done, tried = [a for a, _ in pairs], [b for _, b in pairs]

    interval = share_over_starts(done, tried)

    assert interval is not None
    assert 0 <= interval[0] <= sum(done) / sum(tried) + 1e-12
    assert sum(done) / sum(tried) - 1e-12 <= interval[1] <= 1
    assert not any(math.isnan(edge) for edge in interval)
