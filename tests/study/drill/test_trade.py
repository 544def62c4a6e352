"""The timeout's trade, against the run formula, and the room it leaves."""

import pytest

from radiosim.scenario import parse
from radiosim.study.drill.trade import TIMEOUTS_MS, Trade, room_of, trade, worst_stop_ms

SCENE = """
duration_s = 300
starts = 4
radio.profile = "gfsk-1M"
air.loss = 0.3
transmitter.drive = { period_ms = 30, payload_bytes = 6, acknowledge = false, clock_ppm = 0 }
failsafe.drive = { timeout_ms = 200 }
output.motor = { stream = "drive", field = "value", on_failsafe = { preset_us = 1500 } }
receiver.read = "all"
"""


def row(timeout_ms: float, rate: float, stop_ms: float | None) -> Trade:
    interval = (0.0, 1.2 if rate == 0 else rate * 2)
    return Trade(
        timeout_ms=timeout_ms,
        nuisance_per_hour=rate,
        nuisance_per_hour_ci95=interval,
        worst_stop_ms=stop_ms,
    )


def test_trips_are_as_often_as_runs_of_losses() -> None:
    """Feller I, XIII.7: maximal runs of k losses come once in 1/(q pᵏ) frames (facts 8)."""
    rows = {it.timeout_ms: it for it in trade(parse(SCENE), 4.0, workers=1)["drive"]}

    # Clear of ties: 30 ms does not divide 100, 150 less a pass, 200 or 250.
    for timeout_ms in (100, 200, 250):
        needed = timeout_ms // 30
        expected = 0.7 * 0.3**needed * 3600 / 0.030
        found = rows[timeout_ms]
        assert found.nuisance_per_hour_ci95 is not None
        # Five standard errors of so many rare events.
        hours = 0.93
        assert found.nuisance_per_hour == pytest.approx(
            expected, abs=5 * (expected / hours) ** 0.5 + 1e-9
        )


def test_longer_timeouts_trip_no_oftener_and_stop_no_sooner() -> None:
    rows = trade(parse(SCENE), 4.0, workers=1)["drive"]

    rates = [it.nuisance_per_hour for it in rows]
    stops = [it.worst_stop_ms for it in rows]
    assert [it.timeout_ms for it in rows] == list(TIMEOUTS_MS)
    assert rates == sorted(rates, reverse=True)
    assert None not in stops
    assert stops == sorted(stop for stop in stops if stop is not None)


def test_the_stop_is_the_bound_and_the_motors_way() -> None:
    scene = parse(SCENE)
    plain = worst_stop_ms(scene, "drive", 200)
    motor = worst_stop_ms(parse(SCENE, overrides=["output.motor.motor={stop_s=0.5}"]), "drive", 200)

    assert plain is not None
    assert motor == pytest.approx(plain + 500)
    shared = parse(
        SCENE,
        overrides=[
            "failsafe.drive.fed_by=any",
            "transmitter.look={period_ms=20, payload_bytes=2, acknowledge=false}",
        ],
    )
    assert worst_stop_ms(shared, "drive", 200) is None


def test_workers_make_no_difference() -> None:
    scene = parse(SCENE, overrides=["duration_s=20"])

    assert trade(scene, 100.0, workers=1) == trade(scene, 100.0, workers=2)


def test_room_lies_between_what_trips_seldom_and_what_stops_soon() -> None:
    rows = [row(50, 90.0, 80), row(100, 4.0, 130), row(200, 0.5, 230), row(400, 0.0, 430)]

    room = room_of(rows, 1.0, 300)
    assert (room.shortest_ms, room.longest_ms, room.is_there) == (200, 200, True)
    tight = room_of(rows, 1.0, 150)
    assert (tight.shortest_ms, tight.longest_ms, tight.is_there) == (200, 100, False)
    # None seen says at most 1.2 an hour, which is too much for 0.1.
    assert room_of(rows, 0.1, 1000).shortest_ms is None
    assert not room_of([row(50, 0.2, None)], 1.0, 100).is_there
