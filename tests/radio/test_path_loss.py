"""Path loss: laws; figures from outside stand in tests/reference/test_path_loss_figures.py."""

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from radiosim.radio.path_loss import (
    FREE_SPACE,
    LOG_DISTANCE,
    NEAREST_M,
    TWO_RAY,
    breakpoint_m,
    free_space_db,
    log_distance_db,
    path_loss_db,
    two_ray_db,
)

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
