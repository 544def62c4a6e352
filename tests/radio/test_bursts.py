"""Bursts of loss: laws of the two states."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.radio.bursts import both_lost, correlation, mean_loss, share_bad

bursts_ms = st.floats(0.1, 1e5)
shares = st.floats(0, 1)


@given(bursts_ms, bursts_ms)
def test_shares_of_both_states_make_one(good_ms: float, bad_ms: float) -> None:
    assert share_bad(good_ms, bad_ms) + share_bad(bad_ms, good_ms) == pytest.approx(1.0)


@given(bursts_ms, bursts_ms, st.floats(0, 1e4), st.floats(0, 1e4))
def test_correlation_falls_as_a_power_does(
    good_ms: float, bad_ms: float, one_ms: float, other_ms: float
) -> None:
    both = correlation(one_ms, good_ms, bad_ms) * correlation(other_ms, good_ms, bad_ms)

    assert correlation(one_ms + other_ms, good_ms, bad_ms) == pytest.approx(both, abs=1e-12)


@given(bursts_ms, bursts_ms, shares, shares)
def test_a_retry_at_once_meets_the_same_spell(
    good_ms: float, bad_ms: float, loss_good: float, loss_bad: float
) -> None:
    bad = share_bad(good_ms, bad_ms)
    at_once = both_lost(0.0, good_ms, bad_ms, loss_good, loss_bad)
    much_later = both_lost(1e9, good_ms, bad_ms, loss_good, loss_bad)

    assert at_once == pytest.approx((1 - bad) * loss_good**2 + bad * loss_bad**2, abs=1e-9)
    lost = mean_loss(good_ms, bad_ms, loss_good, loss_bad)
    assert much_later == pytest.approx(lost**2, abs=1e-9)
