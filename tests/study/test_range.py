"""How far a link reaches."""

from itertools import pairwise

import pytest

from radiosim.scenario import parse
from radiosim.study.range import (
    at_distance,
    distances_of,
    margin_db,
    reach,
    rounded_m,
    shortened,
)

SCENARIO = """
duration_s = 20
starts = 2
radio.profile = "gfsk-1M"
transmitter.drive.period_ms = 20
transmitter.drive.payload_bytes = 6
transmitter.head.period_ms = 23
transmitter.head.payload_bytes = 4
transmitter.head.place = { distance_m = 2, gain_dbi = -3 }
failsafe.drive = { timeout_ms = 250 }
air.range = { distance_m = 10, path = "free-space", fading = "rician" }
[[fault]]
at_s = 3
kind = "power_off"
unit = "drive"
[[requirement]]
figure = "stream.drive.gap_ms.max"
at_most = 200
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


def test_distances_go_on_until_nothing_can_arrive() -> None:
    given = parse(SCENARIO)
    distances = distances_of(given, 8)

    assert len(distances) == 8
    assert distances[0] == 1.0
    assert all(margin_db(given, name, distances[-1]) < -18 for name in given.transmitter)
    factors = [b / a for a, b in pairwise(distances)]
    assert factors == pytest.approx([factors[0]] * 7)


def test_the_band_opens_where_the_level_runs_out_and_the_requirement_ends_in_it() -> None:
    given = shortened(parse(SCENARIO), 2, 10.0)
    found = reach(given, distances_of(given, 10), workers=2)
    drive = found.streams["drive"]

    near, far = drive[0].delivery_ratio, drive[-1].delivery_ratio
    assert near.low is not None
    assert near.low > 0.95
    assert far.high == 0.0
    for point in drive:
        band = point.delivery_ratio
        assert band.low is not None
        assert band.high is not None
        # Acknowledged frames meet other air when more arrives: a little slack.
        assert band.low <= band.high + 0.01
    (limit,) = found.limits
    assert limit.requirement == "stream.drive.gap_ms.max at most 200"
    assert 0 < limit.distance_m[0] < limit.distance_m[1]
    assert limit.is_open == (False, False)
    # 6 dB are a factor of two in free space, and the points a factor of about 2.3 apart.
    assert limit.distance_m[1] / limit.distance_m[0] == pytest.approx(4, rel=0.75)


def test_workers_make_no_difference() -> None:
    given = shortened(parse(SCENARIO), 1, 2.0)

    assert reach(given, (5.0, 80.0), workers=1) == reach(given, (5.0, 80.0), workers=2)


def test_a_dead_link_holds_no_requirement() -> None:
    given = shortened(parse(SCENARIO.replace("gap_ms.max", "failsafe.nuisance_trips")), 1, 5.0)
    (limit,) = reach(given, (5.0, 50_000.0), workers=1).limits

    assert limit.distance_m == (5.0, 5.0)
    assert limit.is_open == (False, False)


@pytest.mark.parametrize(
    ("metres", "said"), [(0, 0), (0.34, 0.3), (47.3, 50), (96, 100), (412, 400), (1578, 2000)]
)
def test_no_distance_is_said_to_the_digit(metres: float, said: float) -> None:
    assert rounded_m(metres) == said


def test_a_trip_that_is_asked_for_at_a_fault_is_not_judged_without_it() -> None:
    asked = '[[requirement]]\nfigure = "stream.drive.failsafe.trips_on_fault"\nat_least = 1\n'
    given = parse(SCENARIO + asked)

    limits = reach(given, (5.0, 10.0), workers=1).limits
    assert [limit.requirement for limit in limits if "trips_on_fault" in limit.requirement] == []
