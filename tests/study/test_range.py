"""How far a link reaches."""

import math
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.measure.summary import StreamFigures
from radiosim.scenario import Scenario, parse
from radiosim.study.distance import at_distance, fall_of, margin_db
from radiosim.study.range import Band, Point, _spread, reach, rounded_m, rounded_up_m, shortened
from radiosim.study.starts import simulate_starts
from tests.examples import examples

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
STREAMS = ("drive", "head")


@st.composite
def links(draw: st.DrawFn) -> Scenario:
    """Two transmitters on any path, with or without fading, that have to meet limits."""
    path = draw(st.sampled_from(["free-space", "two-ray", "log-distance"]))
    fading = draw(st.sampled_from(["none", "none", "rician", "rayleigh"]))
    height_m = draw(st.sampled_from(["", ", height_m = 0.4"]))
    timeout_ms = draw(st.sampled_from([60, 250]))
    asked = draw(
        st.lists(
            st.sampled_from(
                [
                    "stream.drive.gap_ms.max 200",
                    "stream.head.gap_ms.p99 80",
                    "stream.drive.failsafe.nuisance_trips 0",
                    "stream.drive.failsafe.nuisance_per_hour 100",
                ]
            ),
            unique=True,
        )
    )
    required = "".join(
        f'[[requirement]]\nfigure = "{figure}"\nat_most = {limit}\n'
        for figure, limit in map(str.split, asked)
    )
    given = parse(
        SCENARIO.partition("[[requirement]]")[0]
        .replace('"free-space", fading = "rician"', f'"{path}", fading = "{fading}"')
        .replace("gain_dbi = -3", f"gain_dbi = -3{height_m}")
        .replace("timeout_ms = 250", f"timeout_ms = {timeout_ms}")
        + required
    )
    return shortened(given, 2, 3.0)


def bands(point: Point) -> tuple[Band, ...]:
    return (
        point.delivery_ratio,
        point.update_rate_hz,
        point.longest_gap_ms,
        point.nuisance_per_hour,
    )


def figures(of: StreamFigures) -> tuple[float | None, ...]:
    trips = None if of.failsafe is None else of.failsafe.nuisance_per_hour
    return of.delivery_ratio, of.update_rate_hz, of.gap_ms.max, trips


def simulated(scenario: Scenario, metres: float, more_db: float, stream: str) -> StreamFigures:
    moved = at_distance(scenario, metres, more_db)
    return simulate_starts(moved, workers=1).figures.stream[stream]


@given(links(), st.integers(2, 14), st.data())
@examples(5)
def test_a_band_holds_what_its_distance_gives_with_less_and_with_more(
    scenario: Scenario, points: int, data: st.DataObject
) -> None:
    found = reach(scenario, points, workers=1)
    for stream, told in found.streams.items():
        assert 2 <= len(told) <= points
        assert all(a.distance_m < b.distance_m for a, b in pairwise(told))
        point = data.draw(st.sampled_from(told))
        # To a millionth of a dB distances share their levels: a draw may fall between.
        for more_db in (-6.0, 0.0, 6.0):
            of = simulated(scenario, point.distance_m, more_db, stream)
            for band, value in zip(bands(point), figures(of), strict=True):
                if value is None:
                    continue
                assert band.least is not None
                assert band.most is not None
                assert band.least * 0.99 - 1e-9 <= value <= band.most * 1.01 + 1e-9
                if more_db == 0.0:
                    assert band.nominal == pytest.approx(value, rel=0.01)


@given(links(), st.data())
@examples(5)
def test_no_band_leaves_out_what_lies_between_its_ends(
    scenario: Scenario, data: st.DataObject
) -> None:
    """Trips are fewest at both ends: all arrives at one, nothing at the other."""
    found = reach(scenario, 8, workers=1)
    stream = data.draw(st.sampled_from(sorted(found.streams)))
    point = data.draw(st.sampled_from(found.streams[stream]))
    of = simulated(scenario, point.distance_m, data.draw(st.floats(-6, 6)), stream)

    read, trips = point.delivery_ratio, point.nuisance_per_hour
    assert of.delivery_ratio is not None
    assert read.least is not None
    assert read.most is not None
    assert read.least - 0.1 <= of.delivery_ratio <= read.most + 0.1
    if of.failsafe is not None and of.failsafe.nuisance_trips > 2:
        assert trips.most


def held(scenario: Scenario, metres: float, more_db: float, number: int, *, is_sure: bool) -> bool:
    summary = simulate_starts(at_distance(scenario, metres, more_db), workers=1)
    arrives = all((f.delivery_ratio or 0) >= 0.1 for f in summary.figures.stream.values())
    ok = summary.requirements[number].ok
    return arrives and (ok is True if is_sure else ok is not False)


@given(links())
@examples(5)
def test_a_requirement_holds_at_its_limit_and_fails_a_little_farther(scenario: Scenario) -> None:
    found = reach(scenario, 5, workers=1)
    for number, limit in enumerate(found.limits):
        low, high = limit.distance_m
        assert low <= high
        if low and not limit.is_open[0]:
            is_sure = not limit.unjudged
            assert held(scenario, low * (1 - 1e-6), -6.0, number, is_sure=is_sure)
            lost = min(margin_db(scenario, name, low) for name in scenario.transmitter)
            beyond = fall_of(scenario).last_m(lost - 0.2)
            assert not held(scenario, beyond, -6.0, number, is_sure=is_sure)


@pytest.mark.slow
def test_a_rate_surely_holds_up_to_one_distance_and_surely_fails_from_another_on() -> None:
    """Between them two minutes could not tell: it is a limit all the same."""
    asked = '{ figure = "stream.drive.failsafe.nuisance_per_hour", at_most = 300 }'
    rated = parse(SCENARIO, overrides=[f"requirement=[{asked}]", "air.range.fading='rayleigh'"])
    scenario = shortened(rated, 6, 20.0)
    (limit,) = reach(scenario, 2, workers=1).limits
    low, high = limit.distance_m
    assert (limit.unjudged, limit.is_open) == ("", (False, False))

    def ok(metres: float, more_db: float) -> bool | None:
        return simulate_starts(at_distance(scenario, metres, more_db), workers=1).requirements[0].ok

    assert ok(low * (1 - 1e-6), -6.0) is True
    assert ok(high * (1 - 1e-6), 6.0) is not False
    # As described it is not judged on the way: neither end is a rate that happened to be seen.
    assert None in {ok(low * (high / low) ** (k / 6), 0.0) for k in range(1, 6)}


def test_spots_where_two_rays_cancel_are_told_and_do_not_end_the_range() -> None:
    flat = SCENARIO.replace('"free-space", fading = "rician"', '"two-ray", fading = "none"')
    near = flat.replace("head.place = { distance_m = 2, gain_dbi = -3 }", "head.power_dbm = 0")
    high = near.replace("air.range = { ", "air.range = { receiver_height_m = 0.5, ")
    found = reach(shortened(parse(high), 1, 5.0), 6, workers=1)
    (limit,) = found.limits

    # Two rays cancel at 2 h₁ h₂ / (k λ): 1.2 m, 0.5 m, 12 cm; k whole.
    assert limit.spots_from_m is not None
    turns = 2 * 1.2 * 0.5 / 0.1215 / limit.spots_from_m
    assert turns == pytest.approx(round(turns), abs=0.1)
    assert limit.distance_m[0] > 50


def test_a_flat_link_is_told_evenly_and_a_step_closely() -> None:
    assert _spread([0.0] * 20, 4, 5) == {0, 5, 10, 15, 20}
    stepped = sorted(_spread([0.0] * 50 + [1.0] + [0.0] * 49, 8, 12))
    assert sum(40 <= k <= 61 for k in stepped) >= 8
    assert len(stepped) == 12
    assert len(_spread([1.0] * 3, 8, 100)) == 4


def test_distances_are_spent_where_something_changes() -> None:
    found = reach(shortened(parse(SCENARIO), 1, 5.0), 12, workers=1)

    told = found.streams["drive"]
    changing = [p for p in told if p.delivery_ratio.least != p.delivery_ratio.most]
    assert len(told) == 12
    assert len(changing) >= 8


def test_trips_in_the_middle_of_a_band_are_told() -> None:
    """As described it trips; with 6 dB more all arrives, with 6 dB less nothing."""
    sharp = parse(SCENARIO.replace('fading = "rician"', 'fading = "none"'))
    found = reach(shortened(sharp, 2, 20.0), 12, workers=1)

    tripping = [p.nuisance_per_hour for p in found.streams["drive"] if p.nuisance_per_hour.nominal]
    assert tripping
    assert all(band.most and band.nominal and band.most >= band.nominal for band in tripping)
    peak = max(band.most or 0.0 for band in tripping)
    wide = [p for p in found.streams["drive"] if p.nuisance_per_hour.most == peak]
    assert math.log2(wide[-1].distance_m / wide[0].distance_m) > 1


def test_a_requirement_that_is_not_judged_is_not_said_to_hold() -> None:
    twins = SCENARIO.replace("head.period_ms = 23", "head.period_ms = 20")
    patient = twins.replace("at_most = 200", "at_most = 20000")
    (limit,) = reach(shortened(parse(patient), 1, 2.0), 3, workers=1).limits

    assert limit.distance_m[0] > 0
    assert limit.unjudged.startswith("too short")


@pytest.mark.slow
def test_margins_of_patterns_are_told_as_what_they_are() -> None:
    turning = (
        "transmitter.head.antenna={pattern=[[0, 2], [180, -18]], turn_deg_s=90}",
        "receiver.antenna={pattern=[[0, -3]]}",
    )
    plain, found = parse(SCENARIO), parse(SCENARIO, overrides=turning)

    by_stream = {name: margin_db(plain, name, 20) - margin_db(found, name, 20) for name in STREAMS}
    assert by_stream == pytest.approx({"drive": 3, "head": 8 + 3})
    notes = reach(shortened(found, 1, 4), 3).notes
    assert any(
        "margins of head" in note and "-11 dB" in note and "-21 dB" in note for note in notes
    )
    assert not reach(shortened(plain, 1, 1), 3).notes[1:]


@pytest.mark.slow
def test_workers_make_no_difference() -> None:
    given = shortened(parse(SCENARIO), 1, 2.0)

    assert reach(given, 3, workers=1) == reach(given, 3, workers=2)


def test_a_dead_link_holds_no_requirement() -> None:
    given = shortened(parse(SCENARIO.replace("gap_ms.max", "failsafe.nuisance_trips")), 1, 5.0)
    found = reach(given, 2, workers=1)
    (limit,) = found.limits

    assert limit.is_open == (False, False)
    assert 0 < limit.distance_m[0] < limit.distance_m[1] < found.streams["drive"][-1].distance_m


@pytest.mark.parametrize(
    ("metres", "below", "above"),
    [
        (0, 0, 0),
        (0.34, 0.3, 0.35),
        (47.3, 45, 50),
        (96, 90, 100),
        (412, 400, 450),
        (1578, 1500, 1600),
    ],
)
def test_no_distance_is_said_to_the_digit(metres: float, below: float, above: float) -> None:
    assert (rounded_m(metres), rounded_up_m(metres)) == (below, above)


@given(st.floats(0.01, 1e5))
@examples(200)
def test_a_round_distance_lies_on_the_safe_side_and_is_round_itself(metres: float) -> None:
    below, above = rounded_m(metres), rounded_up_m(metres)

    assert below <= metres * (1 + 1e-6)
    assert above >= metres * (1 - 1e-6)
    assert above <= 1.3 * below
    assert rounded_m(below) == rounded_up_m(below) == below


def test_a_trip_that_is_asked_for_at_a_fault_is_not_judged_without_it() -> None:
    asked = '[[requirement]]\nfigure = "stream.drive.failsafe.trips_on_fault"\nat_least = 1\n'
    given = parse(SCENARIO + asked)

    limits = reach(given, 3, workers=1).limits
    assert [limit.requirement for limit in limits if "trips_on_fault" in limit.requirement] == []
