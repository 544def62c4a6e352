"""What a radio draws."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.radio.profiles import PROFILES, charge_mah, currents_ma, transmit_ma

PROFILE = PROFILES["gfsk-1M"]
CURRENTS = currents_ma(PROFILE, 0.0)


@pytest.mark.parametrize(("dbm", "ma"), PROFILE.transmit_ma)
def test_the_rows_are_met(dbm: float, ma: float) -> None:
    assert transmit_ma(PROFILE, dbm) == ma


def test_between_rows_lies_a_straight_line() -> None:
    assert transmit_ma(PROFILE, -3.0) == pytest.approx((11.3 + 9.0) / 2)


def test_beyond_the_rows_the_nearest_holds() -> None:
    assert transmit_ma(PROFILE, 20.0) == 11.3
    assert transmit_ma(PROFILE, -40.0) == 7.0


@given(st.floats(-60, 30), st.floats(-60, 30))
def test_more_power_never_draws_less(one: float, other: float) -> None:
    assert transmit_ma(PROFILE, min(one, other)) <= transmit_ma(PROFILE, max(one, other))


def test_charges_of_states_add_up() -> None:
    charge = charge_mah(CURRENTS, {"transmit": 36.0, "receive": 360.0, "off": 1e6})

    assert charge == pytest.approx(11.3 / 100 + 13.1 / 10)


def test_an_hour_in_a_state_is_its_current() -> None:
    for state in ("transmit_settle", "receive_settle", "standby", "power_down"):
        assert charge_mah(CURRENTS, {state: 3600.0}) == CURRENTS[state] > 0
