"""Bands hold the next measurement as often as they say."""

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.study.bench.step import STARTS, cut_of, predicted_range, share_of


def test_of_39_starts_lowest_and_highest_hold_95_per_cent() -> None:
    assert (cut_of(STARTS), share_of(STARTS)) == (1, pytest.approx(0.95))
    assert share_of(STARTS - 1) < 0.95


@given(st.integers(STARTS, 5000))
def test_more_starts_never_hold_less(count: int) -> None:
    assert 0.95 - 1e-9 <= share_of(count) < 0.98


def test_a_range_of_few_says_how_little_it_holds() -> None:
    predicted = predicted_range("gaps", [3.0, 1.0, 2.0], "ms", 0.1)

    assert (predicted.low, predicted.high, predicted.tries, predicted.share) == (1.0, 3.0, 3, 0.5)


def test_a_range_of_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match="no values"):
        predicted_range("gaps", [], "ms", 0.1)


@pytest.mark.parametrize("count", [19, 39, 100])
def test_the_next_value_lies_inside_as_often_as_it_is_said(count: int) -> None:
    draw, trials, inside = random.Random(7), 4000, 0
    for _ in range(trials):
        *seen, coming = (draw.lognormvariate(0, 2) for _ in range(count + 1))
        predicted = predicted_range("x", seen, "ms", 0.1)
        assert predicted.low is not None
        assert predicted.high is not None
        inside += predicted.low < coming < predicted.high

    share = share_of(count)
    # Four standard deviations: missed by chance once in 16,000.
    assert abs(inside / trials - share) < 4 * (share * (1 - share) / trials) ** 0.5
