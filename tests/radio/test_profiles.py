"""What a radio draws."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.errors import ScenarioError
from radiosim.radio.profiles import (
    MOST_SUPPLY_V,
    PROFILES,
    charge_mah,
    currents_ma,
    transmit_ma,
)
from tests.examples import examples
from tests.traces import scenario_with

PROFILE = PROFILES["gfsk-1M"]
CURRENTS = currents_ma(PROFILE, 0.0) or {}


@pytest.mark.parametrize(("dbm", "ma"), PROFILE.transmit_ma)
def test_the_rows_are_met(dbm: float, ma: float) -> None:
    assert transmit_ma(PROFILE, dbm) == ma


def test_between_rows_lies_a_straight_line() -> None:
    assert transmit_ma(PROFILE, -3.0) == pytest.approx((11.3 + 9.0) / 2)


def test_below_the_rows_the_lowest_holds_and_above_them_nothing_is_known() -> None:
    assert transmit_ma(PROFILE, -40.0) == 7.0
    assert transmit_ma(PROFILE, 20.0) is None
    assert currents_ma(PROFILE, 20.0) is None


def test_an_amplifier_draws_beside_its_radio() -> None:
    assert transmit_ma(PROFILE, 20.0, 104.0) == pytest.approx(115.3)


@given(st.floats(-60, 0), st.floats(-60, 0))
def test_more_power_never_draws_less(one: float, other: float) -> None:
    low, high = transmit_ma(PROFILE, min(one, other)), transmit_ma(PROFILE, max(one, other))

    assert low is not None
    assert high is not None
    assert low <= high


@given(
    power_dbm=st.floats(-40, 30),
    amplifier_ma=st.none() | st.floats(0, 1000),
    row=st.none() | st.tuples(st.floats(-40, 30), st.floats(0, 500)),
)
@examples(100)
def test_no_link_that_is_taken_radiates_more_than_it_draws(
    power_dbm: float, amplifier_ma: float | None, row: tuple[float, float] | None
) -> None:
    """By energy, at the most that a module is fed with."""
    keys = [f"transmitter.drive.power_dbm={power_dbm}"]
    keys += [] if amplifier_ma is None else [f"transmitter.drive.amplifier_ma={amplifier_ma}"]
    keys += [] if row is None else [f"radio.transmit_ma=[{list(row)}]"]
    try:
        scenario = scenario_with(*keys)
    except ScenarioError as error:
        said = str(error)
    else:
        said = ""
        currents = currents_ma(scenario.profile(), power_dbm, amplifier_ma)
        if currents is not None:
            assert MOST_SUPPLY_V * currents["transmit"] >= 10 ** (power_dbm / 10) * (1 - 1e-9)

    assert said == "" or "more would be radiated than is drawn" in said


def test_a_run_says_that_a_charge_is_not_known_and_makes_none_up() -> None:
    loud = scenario_with("transmitter.drive.power_dbm=20")
    known = scenario_with("transmitter.drive.power_dbm=20", "transmitter.drive.amplifier_ma=104")

    assert "drive: charge not known at 20 dBm without amplifier_ma" in loud.assumed
    assert not any("charge" in line for line in known.assumed)


def test_charges_of_states_add_up() -> None:
    charge = charge_mah(CURRENTS, {"transmit": 36.0, "receive": 360.0, "off": 1e6})

    assert charge == pytest.approx(11.3 / 100 + 13.1 / 10)


def test_an_hour_in_a_state_is_its_current() -> None:
    for state in ("transmit_settle", "receive_settle", "standby", "power_down"):
        assert charge_mah(CURRENTS, {state: 3600.0}) == CURRENTS[state] > 0
