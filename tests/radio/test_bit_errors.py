"""Bit and frame errors: laws; worked figures stand in tests/reference."""

import math

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.radio.bit_errors import (
    BIT_ERRORS_AT_SENSITIVITY,
    SNR_AT_SENSITIVITY,
    bit_error_rate,
    both_lost,
    cochannel_weight,
    correlation,
    frame_error_rate,
    hazard_per_bit,
    interference_weight,
    mean_loss,
    network_weight,
    noise_mw,
    rejection_db,
    share_bad,
    survives,
)
from radiosim.radio.profiles import PROFILES, Profile
from radiosim.units import db_to_ratio, dbm_to_mw
from tests.examples import examples

ratios = st.floats(0, 200)
lengths = st.integers(1, 3000)


@given(ratios, ratios)
def test_a_better_ratio_never_has_more_errors(one: float, other: float) -> None:
    worse, better = sorted((one, other))

    assert bit_error_rate(better) <= bit_error_rate(worse) <= 0.5
    assert hazard_per_bit(better) <= hazard_per_bit(worse)


@given(st.floats(0, 1), lengths, lengths)
def test_a_shorter_frame_never_fails_more_often(rate: float, one: int, other: int) -> None:
    shorter, longer = sorted((one, other))

    assert 0 <= frame_error_rate(rate, shorter) <= frame_error_rate(rate, longer) <= 1


@given(ratios, lengths)
def test_hazards_of_bits_add_up_to_the_frame_error(snr: float, bits: int) -> None:
    by_hazard = -math.expm1(-bits * hazard_per_bit(snr))

    assert frame_error_rate(bit_error_rate(snr), bits) == pytest.approx(by_hazard, rel=1e-9)


def test_at_sensitivity_one_bit_in_a_thousand_is_wrong() -> None:
    snr = dbm_to_mw(-85.0) / noise_mw(-85.0)

    assert snr == pytest.approx(SNR_AT_SENSITIVITY)
    assert bit_error_rate(snr) == pytest.approx(BIT_ERRORS_AT_SENSITIVITY)


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


powers_mw = st.floats(1e-9, 1e3)
ratios_of_interference = st.floats(1.0, 100.0)
profiles = st.sampled_from(list(PROFILES.values()))


def test_alone_it_survives() -> None:
    assert survives(1e-9, 0.0, 16.0)


@given(powers_mw, ratios_of_interference)
def test_of_equal_powers_none_survives(power_mw: float, ratio: float) -> None:
    assert not survives(power_mw, power_mw, ratio)
    assert not survives(power_mw, power_mw, 1.0)


@given(powers_mw, powers_mw, powers_mw, ratios_of_interference)
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
    profile = msgspec.structs.replace(PROFILES["gfsk-1M"], rejection_db=((1.0, -200.0),))

    weight = interference_weight(profile, 2440.0, 2445.0, 20.0)

    assert weight == pytest.approx(cochannel_weight(12.0) / 20)
    assert interference_weight(profile, 2440.0, 2450.0, 20.0) == pytest.approx(weight / 2)


def test_a_network_counts_beside_its_channel_by_its_skirts() -> None:
    """Where nothing but what falls into our megahertz counts, the weight is the spectrum."""
    profile = msgspec.structs.replace(PROFILES["gfsk-1M"], rejection_db=((1.0, -200.0),))
    middle = network_weight(profile, 2440.0, 2440.0, 20.0)

    for offset_mhz, db in ((0, 0), (8, 0), (11, -20), (20, -28), (30, -40), (35, -40)):
        found = network_weight(profile, 2440.0, 2440.0 + offset_mhz, 20.0) / middle
        assert 10 * math.log10(found) == pytest.approx(db, abs=1.5)
    assert network_weight(profile, 2440.0, 2490.0, 20.0) < 1e-9 * middle


def test_in_the_middle_of_its_channel_a_network_counts_nearly_as_one_without_skirts() -> None:
    profile = msgspec.structs.replace(PROFILES["gfsk-1M"], rejection_db=((1.0, -200.0),))
    flat = interference_weight(profile, 2440.0, 2440.0, 20.0)

    assert network_weight(profile, 2440.0, 2440.0, 20.0) == pytest.approx(flat, rel=0.07)


@given(profiles, st.floats(-100, 100), st.floats(5, 40))
@examples(25)
def test_a_network_further_off_counts_no_more(
    profile: Profile, offset_mhz: float, width_mhz: float
) -> None:
    above = network_weight(profile, 2440.0, 2440.0 + offset_mhz, width_mhz)
    below = network_weight(profile, 2440.0, 2440.0 - offset_mhz, width_mhz)
    further = network_weight(profile, 2440.0, 2441.0 + abs(offset_mhz), width_mhz)

    assert above == pytest.approx(below, rel=1e-9)
    assert further <= above * (1 + 1e-6)


def test_without_a_table_every_channel_is_ours() -> None:
    profile = msgspec.structs.replace(PROFILES["gfsk-1M"], rejection_db=())

    assert interference_weight(profile, 2440, 2480, 1.0) == cochannel_weight(12.0)
