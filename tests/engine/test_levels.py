"""How strong a transmitter is at the other end, and the air's bursts."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.engine.plan import make_plan
from radiosim.engine.plan_rows import Tx
from radiosim.engine.rules.levels import (
    begins_bad,
    distance_at,
    gain_at,
    next_shadow,
    path_gain_db,
    shadow_draw,
    state_ns,
)
from radiosim.radio.waves import TURN_32, cosine_of, sine_of, turned
from radiosim.scenario import parse

SCENARIO = """
duration_s = 1
radio.profile = "gfsk-1M"
transmitter.drive.period_ms = 20
transmitter.drive.payload_bytes = 6
"""


def transmitter(keys: str, start: int = 0) -> Tx:
    return make_plan(parse(SCENARIO + keys), start).tx[0]


def test_a_track_is_straight_between_its_points_and_stays_at_its_ends() -> None:
    tx = transmitter("air.range.track = [[1, 10], [3, 50], [4, 20]]\n")

    metres = [distance_at(tx, round(s * 1e9)) for s in (0, 1, 2, 3, 3.5, 4, 9)]
    assert metres == [10, 10, 30, 50, 35, 20, 20]


def test_the_level_follows_the_track() -> None:
    tx = transmitter('air.range = { path = "free-space", track = [[0, 10], [10, 100]] }\n')

    fall_db = path_gain_db(tx, 0) - path_gain_db(tx, 10 * 10**9)
    assert fall_db == pytest.approx(20)


def test_antennas_and_place_move_the_level() -> None:
    far = 'air.range = { path = "free-space", distance_m = 10 }\n'
    plain = transmitter(far).fixed_db

    place = "transmitter.drive.place = { distance_m = 100, gain_dbi = 3 }\n"
    assert transmitter(far + place).fixed_db == pytest.approx(plain - 20 + 3)
    deaf_end = far.replace(" }", ", receiver_gain_dbi = -2 }")
    assert transmitter(deaf_end).fixed_db == pytest.approx(plain - 2)


def test_a_measured_point_shifts_the_whole_curve() -> None:
    far = 'air.range = { path = "free-space", distance_m = %d%s }\n'
    anchor = ", anchor = { distance_m = 40, delivery = 0.5 }"

    shifts = [
        transmitter(far % (metres, anchor)).fixed_db - transmitter(far % (metres, "")).fixed_db
        for metres in (5, 40, 200)
    ]
    assert shifts == pytest.approx([shifts[0]] * 3)


@given(st.integers(0, TURN_32 - 1))
def test_cosine_and_sine_are_those_of_the_library(turns: int) -> None:
    angle = 2 * math.pi * turns / TURN_32

    assert cosine_of(turns) == pytest.approx(math.cos(angle), abs=1e-7)
    assert sine_of(turns) == pytest.approx(math.sin(angle), abs=1e-7)


@given(st.integers(-(2**45), 2**45), st.integers(0, 2**63 - 1), st.integers(0, 2**60))
def test_where_a_wave_stands_does_not_hang_on_the_width_of_numbers(
    rate: int, phase: int, now: int
) -> None:
    wrapped = (rate * now + phase + 2**63) % 2**64 - 2**63

    assert turned(rate, phase, now) == (wrapped >> 32) & 0xFFFFFFFF


def test_shadowing_keeps_its_spread_and_forgets_with_its_steps() -> None:
    tx = transmitter('air.range = { distance_m = 10, path = "log-distance" }\n')
    drawn = np.empty(60_000)
    drawn[0] = shadow_draw(tx, 0)
    for step in range(1, len(drawn)):
        drawn[step] = next_shadow(tx, step, float(drawn[step - 1]))

    # 60,000 steps hold some 1,500 independent ones: twice the correlation's 20 steps.
    assert np.std(drawn) == pytest.approx(1.0, abs=5 * (0.5 / 1_500) ** 0.5)
    for lag in (5, 20, 40):
        found = np.mean(drawn[:-lag] * drawn[lag:])
        assert found == pytest.approx(math.exp(-lag / 20), abs=5 / 1_500**0.5)


def test_without_fading_or_shadowing_the_level_stands_still() -> None:
    tx = transmitter('air.range = { distance_m = 10, path = "free-space" }\n')

    assert (
        gain_at(tx, 0, 0.0) == gain_at(tx, 10**12, 0.0) == pytest.approx(10 ** (tx.fixed_db / 10))
    )


def test_spells_have_their_mean_lengths_and_share() -> None:
    keys = "air.burst = { good_ms = 900, bad_ms = 100 }\n"
    rx = make_plan(parse(SCENARIO + keys), 0).rx
    good = [state_ns(rx, burst, False) for burst in range(2_000)]
    bad = [state_ns(rx, burst, True) for burst in range(2_000)]

    # Five standard errors of 2,000 exponential lengths, and of 2,000 starts.
    assert np.mean(good) == pytest.approx(900e6, rel=5 / 2_000**0.5)
    assert np.mean(bad) == pytest.approx(100e6, rel=5 / 2_000**0.5)
    begun = [begins_bad(make_plan(parse(SCENARIO + keys), start).rx) for start in range(2_000)]
    assert np.mean(begun) == pytest.approx(0.1, abs=5 * (0.09 / 2_000) ** 0.5)
