"""Whether a signal survives what overlaps it."""

import dataclasses

import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.radio.bit_errors import bit_error_rate
from radiosim.radio.interference import (
    cochannel_weight,
    interference_weight,
    rejection_db,
    survives,
)
from radiosim.radio.profiles import PROFILES, Profile
from radiosim.units import db_to_ratio

powers_mw = st.floats(1e-9, 1e3)
ratios = st.floats(1.0, 100.0)
profiles = st.sampled_from(list(PROFILES.values()))


def test_alone_it_survives() -> None:
    assert survives(1e-9, 0.0, 16.0)


@given(powers_mw, ratios)
def test_of_equal_powers_none_survives(power_mw: float, ratio: float) -> None:
    assert not survives(power_mw, power_mw, ratio)
    assert not survives(power_mw, power_mw, 1.0)


@given(powers_mw, powers_mw, powers_mw, ratios)
def test_more_power_never_lowers_reception(
    signal_mw: float, others_mw: float, more_mw: float, ratio: float
) -> None:
    assert survives(signal_mw + more_mw, others_mw, ratio) >= survives(signal_mw, others_mw, ratio)
    assert survives(signal_mw, others_mw + more_mw, ratio) <= survives(signal_mw, others_mw, ratio)


def test_the_ratio_is_the_threshold() -> None:
    # PS 5.4 table 9, status M: 12 dB at 1 Mbit/s.
    ratio = db_to_ratio(12.0)

    assert survives(10**1.21, 1.0, ratio)
    assert not survives(10**1.19, 1.0, ratio)


@pytest.mark.parametrize("profile", PROFILES.values(), ids=PROFILES)
def test_at_the_tables_ratio_one_bit_in_a_thousand_is_wrong(profile: Profile) -> None:
    other_mw = 1e-6
    signal_mw = other_mw * db_to_ratio(profile.cochannel_db)

    snr = signal_mw / (other_mw * cochannel_weight(profile.cochannel_db))

    assert bit_error_rate(snr) == pytest.approx(1e-3)


@pytest.mark.parametrize(
    ("offset_mhz", "db"),
    [(0, 11), (1.9, 11), (2, 4), (3, 4), (4, -18), (6, -24), (12, -24), (12.1, -40), (80, -40)],
)
def test_between_rows_the_worse_neighbour_holds(offset_mhz: float, db: float) -> None:
    assert rejection_db(PROFILES["gfsk-2M"], offset_mhz) == db


@given(profiles, st.floats(0, 100), st.floats(0, 100))
def test_further_off_nothing_counts_more(profile: Profile, one: float, other: float) -> None:
    near, far = sorted((one, other))

    for width_mhz in (1.0, 20.0):
        weights = [interference_weight(profile, 2440, 2440 + x, width_mhz) for x in (near, far)]
        assert weights[1] <= weights[0] * (1 + 1e-9)


@given(profiles, st.floats(-100, 100), st.floats(0.5, 40))
def test_both_sides_count_alike(profile: Profile, offset_mhz: float, width_mhz: float) -> None:
    above = interference_weight(profile, 2440.0, 2440.0 + offset_mhz, width_mhz)

    below = interference_weight(profile, 2440.0, 2440.0 - offset_mhz, width_mhz)
    assert above == pytest.approx(below, rel=1e-9)


@pytest.mark.parametrize("profile", PROFILES.values(), ids=PROFILES)
def test_a_transmitter_as_wide_as_ours_counts_by_the_table_both_ways(profile: Profile) -> None:
    barely_wider_mhz = profile.bandwidth_mhz * (1 + 1e-9)

    for offset_mhz in (0.0, *(row[0] for row in profile.rejection_db[:-1])):
        by_table = cochannel_weight(rejection_db(profile, offset_mhz))
        wide = interference_weight(profile, 2440.0, 2440.0 + offset_mhz, barely_wider_mhz)
        assert wide == pytest.approx(by_table, rel=1e-6)


def test_of_a_wide_transmitter_the_share_in_our_band_counts() -> None:
    profile = dataclasses.replace(PROFILES["gfsk-1M"], rejection_db=((1.0, -200.0),))

    weight = interference_weight(profile, 2440.0, 2445.0, 20.0)

    assert weight == pytest.approx(cochannel_weight(12.0) / 20)
    assert interference_weight(profile, 2440.0, 2450.0, 20.0) == pytest.approx(weight / 2)


def test_without_a_table_every_channel_is_ours() -> None:
    profile = dataclasses.replace(PROFILES["gfsk-1M"], rejection_db=())

    assert interference_weight(profile, 2440, 2480, 1.0) == cochannel_weight(12.0)
