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
    assert units.ns_from_s(units.s_from_ns(ns)) == ns


@given(st.floats(0, 1e9))
def test_microseconds_go_to_the_nearest_nanosecond(us: float) -> None:
    assert abs(units.ns_from_us(us) - us * 1000) <= 0.5 + 1e-6 * us


@given(st.floats(-150, 40))
def test_levels_come_back(dbm: float) -> None:
    assert units.mw_to_dbm(units.dbm_to_mw(dbm)) == pytest.approx(dbm, abs=1e-9)


def test_three_decibels_are_about_twice() -> None:
    assert units.db_to_ratio(10.0) == 10.0
    assert units.db_to_ratio(3.0103) == pytest.approx(2.0, rel=1e-5)


@pytest.mark.parametrize("mw", [0.0, -1.0])
def test_no_power_has_no_level(mw: float) -> None:
    with pytest.raises(ValueError, match=rf"power must be > 0 mW, got {mw}"):
        units.mw_to_dbm(mw)
