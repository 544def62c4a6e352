"""Averages over fading: laws, and the same integrals by another method."""

import math
from itertools import pairwise

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy import integrate, stats

from radiosim.radio.bit_errors import bit_error_rate, frame_error_rate
from radiosim.radio.propagation import (
    FREE_SPACE,
    LOG_DISTANCE,
    NEAREST_M,
    TWO_RAY,
    Fading,
    anchor_shift_db,
    breakpoint_m,
    doppler_hz,
    free_space_db,
    log_distance_db,
    mean_frame_error,
    path_loss_db,
    rayleigh_outage,
    rician_outage,
    two_ray_db,
)
from radiosim.units import db_to_ratio

fadings = st.sampled_from(["none", "rayleigh", "rician"])
levels_db = st.floats(-30, 60)
lengths = st.integers(40, 3000)
spreads_db = st.just(0.0) | st.floats(0.1, 12)


def by_power(snr: float, bits: int, density: object, highest: float) -> float:
    """The frame error averaged over powers as the definition has it."""

    def weighed(power: float) -> float:
        return density(power) * frame_error_rate(bit_error_rate(snr * power), bits)  # type: ignore[operator]

    parts = [0.0, 0.01, 0.1, 0.5, 1.0, 2.0, highest]
    return sum(
        integrate.quad(weighed, low, high, epsabs=1e-12, limit=200)[0]
        for low, high in pairwise(parts)
    )


@pytest.mark.parametrize("snr_db", [0, 10, 20, 30])
@pytest.mark.parametrize("bits", [40, 201, 329])
def test_the_average_is_that_of_its_definition(snr_db: int, bits: int) -> None:
    snr, k = db_to_ratio(snr_db), db_to_ratio(6)
    rayleigh = by_power(snr, bits, lambda p: math.exp(-p), 60.0)
    of_power = stats.ncx2(2, 2 * k)
    rician = by_power(snr, bits, lambda p: 2 * (1 + k) * of_power.pdf(2 * (1 + k) * p), 40.0)

    assert mean_frame_error(snr, bits, "rayleigh") == pytest.approx(rayleigh, abs=1e-9)
    assert mean_frame_error(snr, bits, "rician", k) == pytest.approx(rician, abs=1e-9)


@pytest.mark.parametrize("fading", ["none", "rayleigh", "rician"])
def test_shadowing_is_averaged_over_its_levels(fading: Fading) -> None:
    def weighed(x: float) -> float:
        snr = db_to_ratio(12 + 6 * x)
        return stats.norm.pdf(x) * mean_frame_error(snr, 201, fading, 4.0)

    expected = integrate.quad(weighed, -8, 8, limit=200, points=(-1, 0, 1))[0]

    shadowed = mean_frame_error(db_to_ratio(12), 201, fading, 4.0, 6.0)
    assert shadowed == pytest.approx(expected, abs=1e-6)


@given(levels_db, st.floats(0, 20), lengths, fadings, spreads_db)
def test_more_level_never_loses_more(
    snr_db: float, more_db: float, bits: int, fading: Fading, spread_db: float
) -> None:
    def lost(db: float) -> float:
        return mean_frame_error(db_to_ratio(db), bits, fading, 4.0, spread_db)

    assert 0 <= lost(snr_db + more_db) <= lost(snr_db) + 1e-12 <= 1 + 1e-9


@given(levels_db, lengths)
def test_rician_lies_between_rayleigh_and_none(snr_db: float, bits: int) -> None:
    snr = db_to_ratio(snr_db)

    no_direct, all_direct = (mean_frame_error(snr, bits, "rician", k) for k in (0.0, 1e4))
    assert no_direct == pytest.approx(mean_frame_error(snr, bits, "rayleigh"), abs=1e-9)
    assert all_direct == pytest.approx(mean_frame_error(snr, bits, "none"), abs=2e-3)


@given(levels_db, lengths, fadings, spreads_db, st.floats(0.01, 0.99))
def test_an_anchor_gives_the_measured_delivery(
    snr_db: float, bits: int, fading: Fading, spread_db: float, delivery: float
) -> None:
    shift_db = anchor_shift_db(snr_db, bits, fading, 4.0, spread_db, delivery)

    lost = mean_frame_error(db_to_ratio(snr_db + shift_db), bits, fading, 4.0, spread_db)
    assert 1 - lost == pytest.approx(delivery, abs=1e-6)


@given(fadings, st.floats(0, 1, exclude_min=True, exclude_max=True))
def test_every_delivery_has_a_level(fading: Fading, delivery: float) -> None:
    assert math.isfinite(anchor_shift_db(10.0, 201, fading, 4.0, 6.0, delivery))


@pytest.mark.parametrize("delivery", [0.0, 1.0, -0.1])
def test_an_anchor_without_losses_says_nothing(delivery: float) -> None:
    with pytest.raises(ValueError, match=r"delivery: must be between 0 and 1, got"):
        anchor_shift_db(10.0, 201, "rayleigh", 0.0, 0.0, delivery)


def test_doppler_is_one_turn_a_wavelength() -> None:
    assert doppler_hz(299_792_458.0 / 2.44e9, 2440) == pytest.approx(1.0)


@given(st.floats(0.01, 1e4), st.floats(1, 10))
def test_more_margin_is_less_outage(margin: float, times: float) -> None:
    assert rayleigh_outage(margin * times) <= rayleigh_outage(margin)
    assert rician_outage(margin * times, 4.0) <= rician_outage(margin, 4.0)


distances = st.floats(0.1, 1e5)
frequencies = st.floats(2400, 2525)
heights = st.floats(0.01, 100)
exponents = st.floats(1, 8)


@given(distances, distances, frequencies, exponents)
def test_further_off_no_level_is_higher(one: float, other: float, mhz: float, n: float) -> None:
    near, far = sorted((one, other))

    assert free_space_db(near, mhz) <= free_space_db(far, mhz)
    assert log_distance_db(near, mhz, n) <= log_distance_db(far, mhz, n) + 1e-9


@given(distances, distances, frequencies, heights, heights)
def test_beyond_the_breakpoint_two_rays_fall_for_good(
    one: float, other: float, mhz: float, h1: float, h2: float
) -> None:
    near, far = sorted((one, other))
    assume(near > 1.001 * breakpoint_m(mhz, h1, h2))

    assert two_ray_db(near, mhz, h1, h2) <= two_ray_db(far, mhz, h1, h2) + 1e-9


@given(distances, frequencies, heights, heights)
def test_two_rays_add_at_most_six_decibels(d: float, mhz: float, h1: float, h2: float) -> None:
    gain_db = free_space_db(d, mhz) - two_ray_db(d, mhz, h1, h2)

    assert gain_db <= 20 * math.log10(2) + 1e-9
    if d < breakpoint_m(mhz, h1, h2):
        assert gain_db >= -30.0 - 1e-9


def test_two_rays_fall_with_the_fourth_power_far_beyond_all_bounds_of_nulls() -> None:
    # 40 log₁₀ of the ratio of distances, by the textbooks; 30 dB below free space and more.
    loss_db = two_ray_db(20_000, 2440, 1.2, 0.1) - two_ray_db(2_000, 2440, 1.2, 0.1)

    assert loss_db == pytest.approx(40.0, abs=1e-3)


@given(distances, frequencies)
def test_an_exponent_of_two_is_free_space(d: float, mhz: float) -> None:
    assert log_distance_db(d, mhz, 2.0) == pytest.approx(free_space_db(d, mhz), abs=1e-9)


@given(st.floats(0, NEAREST_M), st.sampled_from([FREE_SPACE, TWO_RAY, LOG_DISTANCE]))
def test_nothing_comes_nearer_than_ten_centimetres(d: float, kind: int) -> None:
    assert path_loss_db(kind, d, 2440, 1, 1, 3) == path_loss_db(kind, NEAREST_M, 2440, 1, 1, 3)


def test_each_kind_has_its_formula() -> None:
    assert path_loss_db(FREE_SPACE, 60, 2440, 1.2, 0.1, 3.0) == free_space_db(60, 2440)
    assert path_loss_db(TWO_RAY, 60, 2440, 1.2, 0.1, 3.0) == two_ray_db(60, 2440, 1.2, 0.1)
    assert path_loss_db(LOG_DISTANCE, 60, 2440, 1.2, 0.1, 3.0) == log_distance_db(60, 2440, 3.0)
