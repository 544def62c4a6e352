"""Timeouts tried on the same rows."""

import math

import msgspec
import pytest

from radiosim.engine.simulate import simulate
from radiosim.measure.intervals import rate_over_starts
from radiosim.measure.start import tally_start
from radiosim.scenario import parse
from radiosim.study.drill.results import FeasibleRange, TradeOffPoint
from radiosim.study.drill.trade_off import (
    feasible_range_of,
    if_beats_were_seen,
    trade_off_of,
    trips_of,
    with_timeout,
    worst_reaction_ms,
)
from tests.study.drill.scenarios import HEAD, TIMER, rare, scenario_with

TIMEOUTS_MS = (50.0, 100.0, 250.0)


def lossy(more: str = TIMER) -> object:
    made = scenario_with(more)
    return msgspec.structs.replace(made, air=msgspec.structs.replace(made.air, loss=0.75))


def test_trips_on_shared_rows_are_those_of_runs_with_each_timeout() -> None:
    scenario = lossy(TIMER + HEAD)
    found = trips_of(scenario, 1, "auto", TIMEOUTS_MS)

    for place, timeout_ms in enumerate(TIMEOUTS_MS):
        tally = tally_start(simulate(with_timeout(scenario, timeout_ms), start=1))
        for name in ("drive", "head"):
            failsafe = tally.streams[name].failsafe
            assert failsafe is not None
            assert found.counts[name][place] == failsafe.nuisance_trips
    assert found.counts["drive"][0] > 0


def test_a_longer_timeout_trips_no_more_often() -> None:
    counts = trips_of(lossy(), 0, "auto", (50, 70, 100, 150, 250, 400)).counts["drive"]

    assert list(counts) == sorted(counts, reverse=True)


def test_a_curve_has_rates_intervals_and_reactions() -> None:
    scenario = lossy()
    trips = [trips_of(scenario, start, "auto", TIMEOUTS_MS) for start in range(6)]
    curve = trade_off_of(scenario, trips, TIMEOUTS_MS)["drive"]

    assert [point.timeout_ms for point in curve] == list(TIMEOUTS_MS)
    assert curve[0].nuisance_per_hour == pytest.approx(curve[0].nuisance_trips / 0.1)
    for point in curve:
        assert point.nuisance_per_hour_ci95 is not None
        low, high = point.nuisance_per_hour_ci95
        assert low <= point.nuisance_per_hour <= high
    assert curve[1].worst_reaction_ms == worst_reaction_ms(with_timeout(scenario, 100), "drive")


def point(
    timeout_ms: float, trips: int, high: float, alive: float = 1.0, low: float = 0.0
) -> TradeOffPoint:
    return TradeOffPoint(
        timeout_ms=timeout_ms,
        nuisance_trips=trips,
        nuisance_per_hour=float(trips),
        nuisance_per_hour_ci95=(low, high),
        alive_share=alive,
        worst_reaction_ms=timeout_ms + 25,
    )


CURVE = (point(100, 9, 15), point(200, 1, 3), point(400, 0, 0.5))


def test_the_shortest_timeout_is_one_that_surely_trips_seldom_enough() -> None:
    assert feasible_range_of(scenario_with(), "drive", CURVE, 5, 500, 6).shortest_ms == 200
    assert feasible_range_of(scenario_with(), "drive", CURVE, 1, 500, 6).shortest_ms == 400


@pytest.mark.parametrize("reaction_ms", [150, 275, 500, 1234])
@pytest.mark.parametrize("clock_ppm", [0, 20_000])
def test_the_longest_timeout_is_the_last_whole_ms_whose_bound_is_short_enough(
    reaction_ms: float, clock_ppm: float
) -> None:
    given = scenario_with(TIMER, f"receiver.clock_ppm={clock_ppm}")
    longest_ms = feasible_range_of(given, "drive", CURVE, 1, reaction_ms, 6).longest_ms

    assert longest_ms is not None
    under, over = (
        worst_reaction_ms(with_timeout(given, longest_ms + more), "drive") for more in (0, 1)
    )
    assert under is not None
    assert over is not None
    assert under <= reaction_ms < over


def test_limits_that_cross_leave_no_feasible_range_and_say_so() -> None:
    feasible_range = feasible_range_of(scenario_with(), "drive", CURVE, 1, 300, 6)

    assert feasible_range.is_empty
    assert feasible_range.why == (
        "nuisance trips stay under 1 an hour from 400 ms on, "
        "reactions stay under 300 ms only up to 274 ms"
    )
    assert not feasible_range_of(scenario_with(), "drive", CURVE, 1, 500, 6).is_empty


def test_trips_that_go_on_leave_no_timeout() -> None:
    curve = (point(100, 9, 15), point(200, 9, 15, low=4.1))
    feasible_range = feasible_range_of(scenario_with(), "drive", curve, 0.5, 500, 6)

    assert feasible_range.shortest_ms is None
    assert not feasible_range.is_unshown
    assert "even 200 ms has more nuisance trips" in feasible_range.why


def test_trips_that_may_be_rare_enough_leave_it_open() -> None:
    """One in six hours: from 0.004 to 0.93 an hour (Garwood)."""
    feasible_range = feasible_range_of(
        scenario_with(), "drive", (point(100, 9, 15), point(200, 1, 0.93)), 0.5, 500, 6
    )

    assert feasible_range.shortest_ms is None
    assert feasible_range.is_unshown
    assert feasible_range.why == (
        "1 trip with 200 ms in 6 h may be under 0.5 an hour or not; more --hours would tell"
    )


def test_too_little_time_is_not_taken_for_proof() -> None:
    feasible_range = feasible_range_of(
        scenario_with(), "drive", (point(90, 1, 2), point(100, 0, 0.615)), 0.5, 500, 6
    )

    assert feasible_range.shortest_ms is None
    assert feasible_range.is_unshown
    assert feasible_range.why == (
        "0 trips from 100 ms on in 6 h; --hours 8 would show fewer than 0.5 an hour"
    )


def test_a_rate_that_only_too_long_timeouts_may_keep_leaves_none() -> None:
    feasible_range = feasible_range_of(
        scenario_with(), "drive", (point(400, 9, 15, low=4.1), point(2000, 0, 0.615)), 0.5, 500, 6
    )

    assert not feasible_range.is_unshown
    assert feasible_range.why == (
        "nuisance trips may stay that rare from 2000 ms on only; "
        "reactions stay under 500 ms only up to 474 ms"
    )


@pytest.mark.parametrize("asked", [8.0, 2.0, 0.75])
def test_the_hours_that_are_told_do_show_it(asked: float) -> None:
    upper = (rate_over_starts([0] * 6, [0.05] * 6, [1.0] * 6) or (0, 0))[1]
    why = feasible_range_of(scenario_with(), "drive", (point(100, 0, upper),), asked, 500, 0.3).why
    hours = float(why.split("--hours ")[1].split()[0])
    starts = math.ceil(20 * hours)

    shown = rate_over_starts([0] * starts, [0.05] * starts, [1.0] * starts)
    assert shown is not None
    assert shown[1] <= asked


def test_a_rate_that_is_low_enough_but_not_surely_is_not_called_too_high() -> None:
    feasible_range = feasible_range_of(scenario_with(), "drive", (point(400, 2, 5.25),), 5, 500, 1)

    assert feasible_range.shortest_ms is None
    assert feasible_range.why.startswith(
        "2 trips with 400 ms in 1 h may be under 5 an hour or not; more --hours would tell"
    )


def test_a_stream_without_a_stop_has_no_longest_timeout() -> None:
    feasible_range = feasible_range_of(
        scenario_with(TIMER + 'fed_by = "any"\n' + HEAD), "drive", CURVE, 1, 500, 6
    )

    assert feasible_range.longest_ms is None
    assert "any other stream feeds its timer" in feasible_range.why


def test_a_timeout_that_never_lets_the_vehicle_come_alive_is_not_recommended() -> None:
    curve = (point(100, 0, 0.5, alive=0.0), point(200, 0, 0.5, alive=0.4), point(400, 0, 0.5))

    assert feasible_range_of(scenario_with(), "drive", curve, 1, 500, 6).shortest_ms == 400
    assert feasible_range_of(scenario_with(), "drive", curve, 1, 300, 6).why == (
        "outputs are alive for most of the time from 400 ms on only (40 % at 200 ms), "
        "reactions stay under 300 ms only up to 274 ms"
    )


def test_where_no_timeout_brings_the_vehicle_alive_that_is_what_is_in_the_way() -> None:
    feasible_range = feasible_range_of(
        scenario_with(), "drive", (point(100, 0, 0.5, alive=0.0),), 1, 500, 6
    )

    assert feasible_range.shortest_ms is None
    assert feasible_range.why == "even with 100 ms outputs are alive for only 0 % of the time"


def test_timeouts_under_the_time_between_frames_are_dead() -> None:
    scenario, timeouts_ms = rare(), (100.0, 400.0, 1600.0)
    trips = [trips_of(scenario, start, "auto", timeouts_ms) for start in range(6)]
    curve = trade_off_of(scenario, trips, timeouts_ms)["drive"]

    assert [point.is_dead for point in curve] == [True, True, False]
    assert [point.nuisance_trips for point in curve[:2]] == [0, 0]
    assert curve[2].alive_share == pytest.approx(1, abs=0.06)


def test_the_time_alive_is_what_is_left_of_the_time_in_failsafe() -> None:
    scenario = lossy()
    found = trips_of(scenario, 1, "auto", TIMEOUTS_MS)

    for place, timeout_ms in enumerate(TIMEOUTS_MS):
        tally = tally_start(simulate(with_timeout(scenario, timeout_ms), start=1))
        failsafe = tally.streams["drive"].failsafe
        assert failsafe is not None
        in_failsafe = failsafe.on_ns / 60e9
        # Before the first frame outputs are neither alive nor in failsafe entered.
        assert 0 <= 1 - in_failsafe - found.alive["drive"][place] < 0.02


@pytest.mark.parametrize(("offset", "is_unshown"), [("7", True), ("'drawn'", False)])
def test_no_range_is_claimed_where_a_beat_was_not_seen(offset: str, is_unshown: bool) -> None:
    """Equal periods with clocks a hair apart: with fixed phases they meet once in hours."""
    scenario = parse(
        f"""
        duration_s = 10
        radio.profile = "gfsk-1M"
        [transmitter.drive]
        period_ms = 20
        payload_bytes = 6
        acknowledge = false
        clock_ppm = 0
        offset_ms = {offset}
        [transmitter.head]
        period_ms = 20
        payload_bytes = 6
        acknowledge = false
        clock_ppm = 0.5
        offset_ms = 0
        [receiver]
        read = "all"
        clock_ppm = 0
        [failsafe.drive]
        timeout_ms = 250
        """
    )
    trips = [trips_of(scenario, start, "auto", (100, 250)) for start in range(12)]
    shown = FeasibleRange(shortest_ms=100, longest_ms=400, why="")

    found = if_beats_were_seen(shown, trips)

    assert found.is_unshown is is_unshown
    assert (found.shortest_ms is None) is is_unshown
    assert ("drift into each other" in found.why) is is_unshown
