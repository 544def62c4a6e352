"""Spreads in constant memory."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.engine.jit import JitBackend
from radiosim.measure.histogram import (
    BINS,
    COUNTS,
    EDGES,
    Histogram,
    Ramps,
    Spread,
    add_ramp,
    add_span,
    bin_of,
    close_ramps,
    of_ramps,
    of_spread,
)
from tests.examples import examples

SHARES = (0.5, 0.95, 0.99)
spans = st.integers(1_000, 8_000_000_000_000)
samples = st.lists(spans, min_size=1, max_size=300)


PLAIN = JitBackend(None)


def histogram_of(values: np.ndarray) -> Histogram:
    """The histogram of some spans."""
    spread = PLAIN.record(Spread, COUNTS)
    for value in values.tolist():
        add_span(spread, value)
    return of_spread(spread, PLAIN)


def histogram_of_ramps(first: np.ndarray, last: np.ndarray) -> Histogram:
    """The histogram of some ramps."""
    ramps = PLAIN.record(Ramps, COUNTS)
    for begins, ends in zip(first.tolist(), last.tolist(), strict=True):
        add_ramp(ramps, begins, ends)
    close_ramps(ramps)
    return of_ramps(ramps, PLAIN)


def empty() -> Histogram:
    return histogram_of(np.zeros(0, np.int64))


def same(a: Histogram, b: Histogram) -> bool:
    return (
        np.allclose(a.weights, b.weights, rtol=1e-9, atol=1e-3)
        and a.weight == pytest.approx(b.weight)
        and a.moment == pytest.approx(b.moment)
        and (a.highest_ns, a.n) == (b.highest_ns, b.n)
    )


edges = st.builds(
    lambda edge, to: np.nextafter(EDGES[edge], to) if to is not None else EDGES[edge],
    st.integers(1, BINS),
    st.sampled_from([None, 0.0, np.inf]),
)


@given(st.floats(0, 1e16) | edges | st.integers(0, 10**16).map(float))
def test_a_span_lies_in_the_bin_between_whose_edges_it_is(span: float) -> None:
    wanted = int(np.searchsorted(EDGES, span, side="right")) - 1

    assert bin_of(span) == min(wanted, BINS - 1)


@given(samples)
def test_mean_and_maximum_are_exact(values: list[int]) -> None:
    found = histogram_of(np.array(values)).distribution(1.0)

    assert found.n == len(values)
    assert found.max == max(values)
    assert found.mean == pytest.approx(np.mean(values), rel=1e-12)


@given(samples, st.sampled_from(SHARES))
def test_a_quantile_is_within_a_bin_of_the_sample_at_that_share(
    values: list[int], share: float
) -> None:
    wanted = np.quantile(values, share, method="inverted_cdf")

    assert histogram_of(np.array(values)).quantile_ns(share) == pytest.approx(wanted, rel=0.012)


@given(st.integers(1, 10**6), st.floats(0.1, 2.0))
def test_a_smooth_spread_has_numpys_quantiles(seed: int, width: float) -> None:
    values = np.random.default_rng(seed).lognormal(17.0, width, 20_000).astype(np.int64) + 1_000
    found = histogram_of(values).distribution(1.0)

    assert (found.median, found.p95, found.p99) == pytest.approx(
        tuple(np.quantile(values, SHARES)), rel=0.02
    )


@given(samples)
def test_quantiles_go_up_and_end_below_the_maximum(values: list[int]) -> None:
    found = histogram_of(np.array(values)).distribution(1.0)
    quantiles = (found.median, found.p95, found.p99, found.max)

    assert None not in quantiles
    assert list(quantiles) == sorted(quantiles)  # type: ignore[type-var]  # None is excluded


@given(samples, samples, samples)
def test_adding_is_putting_together(a: list[int], b: list[int], c: list[int]) -> None:
    parts = [histogram_of(np.array(values)) for values in (a, b, c)]

    assert same(parts[0] + parts[1] + parts[2], histogram_of(np.array(a + b + c)))
    assert same(parts[0] + (parts[1] + parts[2]), parts[2] + parts[1] + parts[0])


@given(samples)
def test_adding_nothing_changes_nothing(values: list[int]) -> None:
    found = histogram_of(np.array(values))

    assert same(found + empty(), found)


def test_an_empty_one_has_no_figures() -> None:
    found = empty().distribution(1.0)

    assert (found.mean, found.median, found.p95, found.p99, found.max, found.n) == (None,) * 5 + (
        0,
    )


def test_an_empty_one_has_no_quantile() -> None:
    with pytest.raises(ValueError, match="an empty histogram has no quantile"):
        empty().quantile_ns(0.5)


def test_what_is_shorter_or_longer_than_all_bins_still_counts() -> None:
    found = histogram_of(np.array([0, 10, 10**15]))

    assert len(found.weights) == BINS
    assert found.weights.sum() == 3
    assert found.highest_ns == 10**15


def test_a_distribution_is_in_the_unit_asked_for() -> None:
    found = histogram_of(np.array([20_000_000] * 4)).distribution(1e6)

    assert (found.mean, found.max) == (20.0, 20.0)
    assert found.median == pytest.approx(20.0, rel=0.012)


ramps = st.lists(
    st.tuples(st.integers(0, 400_000), st.integers(0, 300_000)), min_size=1, max_size=20
)


def ends(pairs: list[tuple[int, int]]) -> tuple[np.ndarray, np.ndarray]:
    first = np.array([a for a, _ in pairs])
    return first, first + np.array([length for _, length in pairs])


@given(ramps)
def test_ramps_have_the_mean_and_maximum_of_their_area(pairs: list[tuple[int, int]]) -> None:
    first, last = ends(pairs)
    found = histogram_of_ramps(first, last)
    area = sum((b * b - a * a) / 2 for a, b in zip(first.tolist(), last.tolist(), strict=True))

    assert found.moment == pytest.approx(area)
    assert found.weight == pytest.approx((last - first).sum())
    assert found.weights.sum() == pytest.approx(found.weight)
    assert found.highest_ns == last.max()


@given(ramps)
def test_ramps_are_what_sampling_them_gives(pairs: list[tuple[int, int]]) -> None:
    first, last = ends(pairs)
    sampled = [np.arange(a + 5, b, 10) for a, b in zip(first.tolist(), last.tolist(), strict=True)]
    wanted = histogram_of(np.concatenate(sampled))
    found = histogram_of_ramps(first, last)

    # Each edge of a bin, and each end of a ramp, shifts at most one sample of 10 ns.
    running = np.abs(np.cumsum(found.weights) - 10 * np.cumsum(wanted.weights))
    assert running.max() <= 10 * len(pairs) + 1e-3


@given(ramps, ramps)
def test_ramps_add_up(a: list[tuple[int, int]], b: list[tuple[int, int]]) -> None:
    parts = histogram_of_ramps(*ends(a)) + histogram_of_ramps(*ends(b))

    assert same(parts, histogram_of_ramps(*ends(a + b)))


def test_a_sawtooth_has_the_age_of_a_periodic_source() -> None:
    # Kaul, Yates, Gruteser (INFOCOM 2012), formula from memory: T(1/s − 1/2) + d, here s = 1.
    period_ns, delay_ns, count = 20_000_000, 1_000_000, 500
    first = np.full(count, delay_ns)
    found = histogram_of_ramps(first, first + period_ns).distribution(1e6)

    assert found.mean == pytest.approx(20 * 0.5 + 1)
    assert found.median == pytest.approx(11.0, rel=0.012)
    assert found.max == 21.0


def test_no_ramps_are_empty() -> None:
    none = np.zeros(0, np.int64)

    assert histogram_of_ramps(none, none).distribution(1.0).n == 0


@given(
    few=st.lists(st.integers(1_000, 10**9), min_size=1, max_size=40),
    many=st.lists(st.integers(1_000, 10**9), min_size=1, max_size=40),
    weight=st.sampled_from([0.25, 0.5, 2.0, 7.0]),
    share=st.sampled_from(SHARES),
)
@examples(60)
def test_quantiles_of_starts_with_unequal_weights_are_those_of_repeated_values(
    few: list[int], many: list[int], weight: float, share: float
) -> None:
    """A start that counts `weight` times is as good as its values so many times (by numpy)."""
    one, other = histogram_of(np.array(few)), histogram_of(np.array(many))
    whole = round(4 * weight)
    repeated = np.concatenate((np.repeat(few, whole), np.repeat(many, 4)))
    expected = float(np.quantile(repeated, share, method="inverted_cdf"))

    found = (one.scaled(weight) + other).quantile_ns(share)

    # A bin is a fraction of a per cent wide; at a step of the sum either side is right.
    beside = [
        float(np.quantile(repeated, at, method="inverted_cdf"))
        for at in (share - 1e-9, share + 1e-9)
    ]
    assert min(expected, *beside) * 0.98 <= found <= max(expected, *beside) * 1.02
