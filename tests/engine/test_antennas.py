"""Antennas that turn: headings, patterns, and what closed forms say of them (rule C6)."""

from itertools import accumulate
from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.engine.plan import Plan, make_plan
from radiosim.engine.plan_air import antennas_of, level_dbm
from radiosim.engine.plan_rows import Antenna, Gain
from radiosim.engine.rules.antennas import antenna_db, gain_towards, heading_at
from radiosim.engine.rules.levels import gain_at
from radiosim.engine.simulate import simulate
from radiosim.radio.antenna import NAMED, gain_db
from radiosim.scenario import Scenario, parse
from radiosim.scenario.checks.unit_checks import span_of
from radiosim.scenario.structs.antenna_tables import Antenna as Described
from radiosim.trace import NEW, OFF, OUT_OF_RANGE, ROWS
from tests.engines.random_scenarios import antenna, headed
from tests.examples import examples
from tests.radio.test_antenna import patterns

SCENARIO = """
duration_s = 12
radio.profile = "gfsk-1M"
air.range = { distance_m = 60, path = "free-space" }
layout.look.fields = [{ name = "yaw", type = "i16", scale = 0.1, min = -180.0, max = 180.0 }]
transmitter.head = { layout = "look", period_ms = 20, boot_s = 0 }
receiver.boot_s = 0
"""
ONE_SIDED = "pattern = [[0, 0], [90, -9], [180, -18], [270, -27]]"


def scenario(*keys: str) -> Scenario:
    return parse(SCENARIO, overrides=keys)


def planned(*keys: str) -> Plan:
    return make_plan(scenario(*keys), 1)


def held(keys: str) -> Antenna:
    return planned(f"transmitter.head.antenna={{{ONE_SIDED}, {keys}}}").tx[0].antenna


def ns(seconds: float) -> int:
    return round(seconds * 1e9)


def test_every_pattern_that_is_named_is_on_offer() -> None:
    (words, _) = get_args(get_args(Described.__annotations__["pattern"])[0])

    assert set(get_args(words)) == set(NAMED)


def test_looking_to_the_right_has_the_other_end_at_the_left() -> None:
    gains = [antenna_db(held(f"heading_deg={heading}"), 0) for heading in (0, 90, 180, 270, -90)]

    assert gains == pytest.approx([0, -27, -18, -9, -9])


def test_turning_the_antenna_on_its_carrier_is_turning_the_carrier() -> None:
    assert antenna_db(held("rotation_deg=90"), 0) == antenna_db(held("heading_deg=90"), 0)


def test_headings_turn_swing_step_and_follow_tracks() -> None:
    turned = held("heading_deg=10, turn_deg_s=-30")
    assert [heading_at(turned, ns(s)) for s in (0, 1, 12)] == pytest.approx([10, -20, -350])
    track = held("heading_track=[[1, 350], [3, 370]]")
    assert [heading_at(track, ns(s)) for s in (0, 2, 9)] == pytest.approx([350, 360, 370])


@pytest.mark.parametrize(
    "signal",
    [
        {"kind": "constant", "value": 30.0},
        {"kind": "sine", "period_s": 3.0, "amplitude": 50.0, "phase_deg": 20},
        {"kind": "steps", "values": [0.0, -45.0, 90.0], "hold_s": 0.7},
        {"kind": "lookaround", "amplitude": 80.0, "sweep_s": 1.0, "rest_s": 0.5},
    ],
)
@given(st.integers(0, 12 * 10**9 - 1))
@examples(30)
def test_a_heading_is_what_its_field_does(signal: dict[str, object], now: int) -> None:
    given = scenario(
        f"transmitter.head.antenna={{{ONE_SIDED}, heading_field='yaw', deg_per_unit=-2}}",
        *(f"transmitter.head.signals.yaw.{key}={value!r}" for key, value in signal.items()),
    )
    plan = make_plan(given, 0)
    field = given.layout_of("head").fields[0]
    expected = given.transmitter["head"].signals["yaw"].value_at(now / 1e9, 0, span_of(field))
    assert heading_at(plan.tx[0].antenna, now) == pytest.approx(-2 * expected, abs=1e-9)


@given(patterns(), st.floats(-2000, 2000))
def test_the_rule_gives_what_the_pattern_says(pattern, degrees) -> None:  # type: ignore[no-untyped-def]
    row = Antenna(angles=len(pattern), gain=tuple(Gain(*pair) for pair in pattern))

    assert gain_towards(row, degrees) == pytest.approx(gain_db(pattern, degrees), abs=1e-6)


@given(st.one_of(antenna, headed.filter(lambda a: a["heading_field"] == "yaw")))
@examples(100)
def test_no_instant_gives_less_than_the_worst_nor_more_than_the_best(described) -> None:  # type: ignore[no-untyped-def]
    keys = (f"transmitter.head.antenna.{key}={value!r}" for key, value in described.items())
    row = planned(*keys).tx[0].antenna
    seen = [antenna_db(row, ns(k * 12 / 400)) for k in range(400)]

    assert row.worst_db <= min(seen) + 1e-9
    assert max(seen) <= row.best_db + 1e-9
    assert row.worst_db - 1e-9 <= row.mean_db <= row.best_db + 1e-9


# Worked by hand: lines from 0 by -9 and -18 to -27 dB and back; the other end goes round the other
# way, and each part counts by how far it turns.
@pytest.mark.parametrize(
    ("track", "mean_db", "worst_db"),
    [
        ("[[0, 0], [12, 90]]", -13.5, -27),
        ("[[0, 0], [12, -90]]", -4.5, -9),
        ("[[0, 0], [6, 90], [12, 270]]", (-13.5 * 90 - 18 * 180) / 270, -27),
    ],
)
def test_a_pattern_counts_over_the_headings_that_come_up(
    track: str, mean_db: float, worst_db: float
) -> None:
    row = held(f"heading_track={track}")

    assert row.mean_db == pytest.approx(mean_db)
    assert row.worst_db == pytest.approx(worst_db)


def test_both_antennas_count_both_ways() -> None:
    bare = planned()
    keys = (
        f"transmitter.head.antenna={{{ONE_SIDED}, heading_deg=180}}",
        f"receiver.antenna={{{ONE_SIDED}, heading_deg=90}}",
    )
    turned = planned(*keys)

    plain = gain_at(bare.tx[0], bare.rx, 0, 0.0)
    assert gain_at(turned.tx[0], turned.rx, 0, 0.0) == pytest.approx(plain * 10**-4.5)
    mean_db = sum(antenna.mean_db for antenna in antennas_of(scenario(*keys), "head"))
    assert level_dbm(scenario(*keys), "head", 60) == pytest.approx(
        level_dbm(scenario(), "head", 60) + mean_db
    )


def test_a_measured_point_was_measured_with_the_antennas_turned_to_each_other() -> None:
    anchor = "air.range.anchor={distance_m=60, delivery=0.5}"
    turned = planned(anchor, f"transmitter.head.antenna={{{ONE_SIDED.replace('0]', '7]', 1)}}}")

    bare = planned(anchor)
    assert gain_at(turned.tx[0], turned.rx, 0, 0.0) == pytest.approx(
        gain_at(bare.tx[0], bare.rx, 0, 0.0)
    )


def test_a_pattern_of_nothing_changes_nothing() -> None:
    flat = scenario("transmitter.head.antenna={pattern=[[0, 0]], turn_deg_s=90}")

    before, after = simulate(scenario(), start=0), simulate(flat, start=0)
    for name in ROWS:
        assert getattr(before, name).tolist() == getattr(after, name).tolist(), name


def test_a_null_takes_many_frames_in_a_row() -> None:
    # Three turns in 12 s; at 60 m some 12 dB are left: the null takes them on both sides.
    rows = simulate(
        scenario(
            "transmitter.head.antenna={pattern='half_wave_dipole', turn_deg_s=90}",
            "transmitter.head.acknowledge=false",
        ),
        start=0,
    ).attempts
    fates = rows["fate"].tolist()
    assert set(fates) <= {NEW, OFF, OUT_OF_RANGE}
    lost = [fate == OUT_OF_RANGE for fate in fates]
    runs = list(accumulate(lost, lambda run, gone: run + 1 if gone else 0))

    spells = sum(1 for k, run in enumerate(runs) if run >= 5 and not any(runs[k + 1 : k + 2]))
    assert spells == 6
