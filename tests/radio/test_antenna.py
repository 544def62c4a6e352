"""Patterns of antennas: straight between their angles, all round."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.radio.antenna import (
    DEEPEST_DB,
    DIPOLE_DBI,
    NAMED,
    best_db,
    gain_db,
    mean_db,
    worst_db,
)

DIPOLE = NAMED["half_wave_dipole"]


@st.composite
def patterns(draw: st.DrawFn) -> tuple[tuple[float, float], ...]:
    degrees = draw(st.lists(st.integers(0, 3599), min_size=1, max_size=12, unique=True))
    gains = st.floats(-60, 30, allow_nan=False)
    return tuple((angle / 10, draw(gains)) for angle in sorted(degrees))


def test_a_dipole_is_best_ahead_and_behind_and_deaf_at_both_sides() -> None:
    assert gain_db(DIPOLE, 0) == gain_db(DIPOLE, 180) == DIPOLE_DBI == best_db(DIPOLE)
    assert gain_db(DIPOLE, 90) == gain_db(DIPOLE, -90) == DIPOLE_DBI - DEEPEST_DB
    assert all(gain_db(DIPOLE, a) == pytest.approx(gain_db(DIPOLE, -a)) for a in range(360))


def test_a_pattern_is_straight_across_the_place_where_degrees_begin_again() -> None:
    pattern = ((90.0, 0.0), (270.0, -18.0))

    assert [gain_db(pattern, a) for a in (90, 180, 270, 315, 0, 360, 45)] == pytest.approx(
        [0, -9, -18, -13.5, -9, -9, -4.5]
    )


@given(patterns(), st.floats(-1000, 1000), st.integers(-3, 3))
def test_a_full_turn_changes_nothing(pattern, degrees, turns) -> None:  # type: ignore[no-untyped-def]
    assert gain_db(pattern, degrees + 360 * turns) == pytest.approx(
        gain_db(pattern, degrees), abs=1e-6
    )


@given(patterns(), st.integers(-500, 500), st.integers(0, 700))
def test_worst_and_mean_are_those_of_many_angles(pattern, low, width) -> None:  # type: ignore[no-untyped-def]
    high = low + width
    count = 720
    step = min(width, 360) / count
    looked = [gain_db(pattern, low + step * (k + 0.5)) for k in range(count)]

    # Between two looks a gain may fall by the steepest line that there is.
    assert worst_db(pattern, low, high) <= min(looked) + 1e-9
    assert mean_db(pattern, low, high) == pytest.approx(sum(looked) / count, abs=0.5)
    assert worst_db(pattern, low, high) - 1e-9 <= mean_db(pattern, low, high)
    assert mean_db(pattern, low, high) <= best_db(pattern) + 1e-9
