"""Bands hold the next measurement as often as they say."""

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.study.bench.step import STARTS, predicted_range, cut_of, share_of


def test_of_39_starts_lowest_and_highest_hold_95_per_cent() -> None:
    assert (cut_of(STARTS), share_of(STARTS)) == (1, pytest.approx(0.95))
    assert share_of(STARTS - 1) < 0.95


@given(st.integers(STARTS, 5000))
def test_more_starts_never_hold_less(count: int) -> None:
    assert 0.95 - 1e-9 <= share_of(count) < 0.98


def test_a_band_of_few_says_how_little_it_holds() -> None:
    band = predicted_range("holes", [3.0, 1.0, 2.0], "ms", 0.1)

    assert (band.low, band.high, band.tries, band.share) == (1.0, 3.0, 3, 0.5)


def test_a_band_of_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match="no values"):
        predicted_range("holes", [], "ms", 0.1)


@pytest.mark.parametrize("count", [19, 39, 100])
def test_the_next_value_lies_inside_as_often_as_it_is_said(count: int) -> None:
    draw, trials, inside = random.Random(7), 4000, 0
    for _ in range(trials):
        *seen, coming = (draw.lognormvariate(0, 2) for _ in range(count + 1))
        band = predicted_range("x", seen, "ms", 0.1)
        assert band.low is not None
        assert band.high is not None
        inside += band.low < coming < band.high

    share = share_of(count)
    # Four standard deviations: missed by chance once in 16,000.
    assert abs(inside / trials - share) < 4 * (share * (1 - share) / trials) ** 0.5
