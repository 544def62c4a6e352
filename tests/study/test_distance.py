"""A scenario at a distance, and how margins fall with it."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.scenario import Scenario, parse
from radiosim.study.distance import at_distance, fall_alike, fall_of, margin_db
from tests.examples import examples

SCENARIO = """
radio.profile = "gfsk-1M"
transmitter.drive.period_ms = 20
transmitter.drive.payload_bytes = 6
transmitter.head.period_ms = 23
transmitter.head.payload_bytes = 4
transmitter.head.place = { distance_m = 2, gain_dbi = -3 }
air.range = { distance_m = 10, path = "free-space", fading = "rician" }
[[fault]]
at_s = 3
kind = "power_off"
unit = "drive"
"""


def test_everybody_stands_at_the_distance_and_nothing_breaks() -> None:
    moved = at_distance(parse(SCENARIO), 50.0, 6.0)
    place = moved.transmitter["head"].place

    assert moved.air.range is not None
    assert (moved.air.range.distance_m, moved.air.range.receiver_gain_dbi) == (50.0, 6.0)
    assert place is not None
    assert (place.distance_m, place.gain_dbi) == (None, -3)
    assert moved.fault == ()


def test_a_measured_point_stays_and_the_shift_comes_on_top() -> None:
    anchored = parse(
        SCENARIO.replace('"rician" }', '"rician", anchor = { distance_m = 40, delivery = 0.9 } }')
    )

    before = margin_db(anchored, "drive", 40.0)
    assert margin_db(at_distance(anchored, 40.0, 0.0), "drive", 40.0) == pytest.approx(before)
    assert margin_db(at_distance(anchored, 40.0, 6.0), "drive", 40.0) == pytest.approx(before + 6)


@st.composite
def placed(draw: st.DrawFn) -> Scenario:
    """Two transmitters anywhere on any path, weak and strong."""
    path = draw(st.sampled_from(["free-space", "two-ray", "log-distance"]))
    high_m, low_m = draw(st.tuples(st.floats(0.05, 3), st.floats(0.05, 3)))
    exponent, power = draw(st.floats(1, 8)), draw(st.integers(-40, 20))
    return parse(
        SCENARIO.replace('"free-space"', f'"{path}", exponent = {exponent}')
        .replace("gain_dbi = -3", f"gain_dbi = -3, height_m = {high_m}")
        .replace('"rician"', f'"rician", receiver_height_m = {low_m}')
        .replace("drive.period_ms", f"drive.power_dbm = {power}\ntransmitter.drive.period_ms")
    )


def weakest(scenario: Scenario, metres: float) -> float:
    return min(margin_db(scenario, name, metres) for name in scenario.transmitter)


@given(placed())
@examples(100)
def test_margins_fall_until_nothing_can_arrive(scenario: Scenario) -> None:
    fall = fall_of(scenario)

    assert all(a >= b for a, b in pairwise(fall.lowest_db))
    assert all(a >= b for a, b in pairwise(fall.highest_db))
    assert all(a <= b for a, b in zip(fall.lowest_db, fall.highest_db, strict=True))
    assert fall.lowest_db[0] - fall.lowest_db[-1] >= 12
    end_m = fall.distance_m[-1]
    strongest = max(margin_db(scenario, name, end_m) for name in scenario.transmitter)
    assert end_m == 20_000 or strongest <= -18


@given(placed(), st.floats(0, 1))
@examples(200)
def test_a_margin_has_a_first_and_a_last_distance(scenario: Scenario, part: float) -> None:
    fall = fall_of(scenario)
    margin = fall.highest_db[0] + part * (fall.highest_db[-1] - fall.highest_db[0])
    first, last = fall.first_m(margin), fall.last_m(margin)

    assert first <= last * (1 + 1e-9)
    assert weakest(scenario, last) >= margin - 1e-6
    assert first == 1.0 or weakest(scenario, first * (1 + 1e-6)) <= margin + 0.01
    for metres in fall.distance_m:
        left = weakest(scenario, metres)
        assert left > margin if metres < first * 0.995 else True
        assert left < margin if metres > last * 1.005 else True


@given(placed())
@examples(60)
def test_levels_that_fall_alike_differ_by_the_same_everywhere(scenario: Scenario) -> None:
    apart = {
        round(margin_db(scenario, "drive", m) - margin_db(scenario, "head", m), 6)
        for m in (1.5, 7.0, 90.0, 3000.0)
    }

    assert not fall_alike(scenario) or len(apart) == 1
