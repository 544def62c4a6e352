"""Conversions."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim import units


@given(st.integers(-(10**15), 10**15))
def test_milliseconds_come_back(ns: int) -> None:
    assert units.ns_from_ms(units.ms_from_ns(ns)) == ns


@given(st.integers(0, 10**14))
def test_seconds_come_back(ns: int) -> None:
    assert units.ns_from_s(ns / units.NS_PER_S) == ns


@given(st.floats(0, 1e9))
def test_microseconds_go_to_the_nearest_nanosecond(us: float) -> None:
    assert abs(units.ns_from_us(us) - us * 1000) <= 0.5 + 1e-6 * us


def test_ten_decibels_are_ten_times() -> None:
    assert units.dbm_to_mw(0.0) == 1.0
    assert units.dbm_to_mw(-20.0) == pytest.approx(0.01)
    assert units.db_to_ratio(10.0) == 10.0
    assert units.db_to_ratio(3.0103) == pytest.approx(2.0, rel=1e-5)
