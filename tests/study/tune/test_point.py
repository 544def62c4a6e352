"""One point, judged."""

import json

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.engine.simulate import flow
from radiosim.measure.start import tally_flow
from radiosim.measure.summary import RequirementFigures
from radiosim.scenario import Scenario, parse
from radiosim.scenario.shipped import shipped_scenarios
from radiosim.study.starts import Narrow, simulate_starts
from radiosim.study.tune.point import (
    BUSY,
    CHANCE,
    COLLISION,
    DEAF,
    FAULT,
    FULL,
    OFF,
    RANGE,
    SLOW,
    UNNOTICED,
    cause_of,
    figures_at_point,
    judged,
    lean,
    margin_of,
    tried_of,
    with_requirements,
)
from tests.examples import examples
from tests.study.tune.scenarios import ALONE, shipped, two

SCENARIO, _ = with_requirements(two("air.loss=0.2"))


def test_its_figures_are_those_of_a_run_of_the_changed_scenario() -> None:
    row = judged(SCENARIO, "auto", None, ("transmitter.drive.period_ms=31",))
    run = simulate_starts(two("air.loss=0.2", "transmitter.drive.period_ms=31"), workers=1)
    drive = run.figures.stream["drive"]

    assert row["starts"] == 2
    assert row["stream"]["drive"]["update_rate_hz"] == drive.update_rate_hz
    assert row["stream"]["drive"]["delivery_ratio"] == drive.delivery_ratio
    assert row["worst"]["stream.drive.gap_ms.max"] == run.worst["stream.drive.gap_ms.max"].value
    both = run.figures.stream.values()
    assert row["duty_cycle"] == sum(figures.duty_cycle for figures in both)
    assert row["charge_mah_per_hour"] == sum(figures.charge_mah_per_hour for figures in both)


@pytest.mark.parametrize("name", ["culvert-crawler", "twin-clocks", "late-goggles"])
def test_requirements_are_judged_as_a_run_judges_them(name: str) -> None:
    given, _ = with_requirements(shipped(name, "starts=3", "duration_s=20"))
    row, run = judged(given, "auto", None, ()), simulate_starts(given, workers=1)

    assert row["measured"] == {
        requirement.figure: requirement.measured for requirement in run.requirements
    }
    assert row["missed"] == sum(requirement.ok is False for requirement in run.requirements)


def test_a_row_is_what_json_can_hold() -> None:
    row = judged(SCENARIO, "auto", None, ())
    held = json.loads(json.dumps(row, allow_nan=False))

    assert tried_of((20.0,), held, is_own=False) == tried_of((20.0,), row, is_own=False)
    assert tried_of((20.0,), row, is_own=False).judged.starts == 2


@pytest.mark.parametrize(("period_ms", "holds"), [(20, True), (300, False)])
def test_a_cause_is_told_of_what_misses_and_of_nothing_else(period_ms: int, holds: bool) -> None:
    row = judged(SCENARIO, "auto", None, (f"transmitter.drive.period_ms={period_ms}",))

    assert (row["margin"] >= 0) == holds
    assert (row["cause"] == "") == holds


def test_settings_that_make_no_sound_scenario_are_refused_in_a_row() -> None:
    row = judged(SCENARIO, "auto", None, ("transmitter.head.retry_delay_us=100",))

    refused = tried_of((100.0,), row, is_own=False)

    assert (refused.figures, refused.margin, refused.ok) == (None, None, False)
    assert "retry_delay_us" in refused.refused
    with pytest.raises(ValueError, match="has no figures"):
        assert refused.judged


def more(starts: int) -> Scenario:
    return with_requirements(two("air.loss=0.2", f"starts={starts}", "duration_s=2"))[0]


def test_starts_are_added_until_the_figure_is_narrow_enough() -> None:
    wide = Narrow(figure="stream.drive.delivery_ratio", half_width=0.5)
    narrow = Narrow(figure="stream.drive.delivery_ratio", half_width=1e-9)
    few, all_of_them = (judged(more(20), "auto", entry, ()) for entry in (wide, narrow))

    assert (few["starts"], few["is_narrow"]) == (8, True)
    assert (all_of_them["starts"], all_of_them["is_narrow"]) == (20, False)
    low, high = few["interval_ci95"]
    assert low <= few["stream"]["drive"]["delivery_ratio"] <= high


def test_clocks_that_beat_are_the_cause_of_what_they_take() -> None:
    given, _ = with_requirements(shipped("twin-clocks", "starts=3", "duration_s=20"))

    assert judged(given, "auto", None, ())["cause"] == "clocks beat"
    assert judged(given, "auto", None, ("transmitter.head.period_ms=23",))["cause"] == ""


FAR = "air.range={distance_m=5000, path='free-space'}"


def cause(given: Scenario, figure: str = "stream.drive.gap_ms.max") -> str:
    outputs = {name: output.stream for name, output in given.output.items()}
    return cause_of(figure, tally_flow(flow(given)).streams, outputs)


@pytest.mark.parametrize(
    ("given", "expected"),
    [
        (parse(ALONE), SLOW),
        (two("air.loss=0.3"), CHANCE),
        (two("transmitter.head.period_ms=2.3"), DEAF),
        (shipped("twin-clocks", "duration_s=60"), COLLISION),
        (two("receiver.read='one'", "receiver.loop_ms=40"), FULL),
        (two("transmitter.drive.period_ms=0.4"), BUSY),
        (two(FAR), RANGE),
    ],
)
def test_what_takes_most_frames_is_named(given: Scenario, expected: str) -> None:
    assert cause(given) == expected


def test_what_a_boot_takes_of_all_frames_is_no_chance() -> None:
    given = two("air.loss=0.2", "receiver.boot_s=2")

    assert cause(given, "stream.drive.delivery_ratio") == OFF
    assert cause(given) == CHANCE


def test_a_fault_that_no_timer_saw_is_not_blamed_on_the_air() -> None:
    assert cause(two("air.loss=0.3"), "stream.drive.failsafe.trips_on_fault") == UNNOTICED


def test_a_timer_that_clocks_had_tripped_before_the_fault_is_not_said_to_miss_it() -> None:
    """Equal periods from one instant: frames meet for good, and failsafe is on from the start."""
    unit = (
        "{ boot_s = 0, period_ms = 20, payload_bytes = 12, acknowledge = false, clock_ppm = 0, "
        "offset_ms = 0 }"
    )
    given = parse(
        f"""
radio.profile = "gfsk-1M"
duration_s = 3
starts = 1
receiver = {{ boot_s = 0, read = "all" }}
transmitter.drive = {unit}
transmitter.head = {unit.replace("0 }", "0, start_s = 1 }")}
failsafe.drive = {{ timeout_ms = 250 }}
fault = [ {{ at_s = 2, kind = "power_off", unit = "drive" }} ]
requirement = [ {{ figure = "stream.drive.failsafe.trips_on_fault", at_least = 1 }} ]
"""
    )
    tally = tally_flow(flow(given)).streams["drive"].failsafe

    assert tally is not None
    assert (tally.trips_on_fault, tally.nuisance_trips) == (0, 1)
    assert judged(given, "auto", None, ())["cause"] == "clocks beat"


def test_an_outputs_figure_is_about_its_stream() -> None:
    given = two("transmitter.drive.period_ms=0.4")

    assert cause(given, "output.drive.latency_ms.p99") == BUSY
    assert cause(given, "output.head.latency_ms.p99") != BUSY


def margin(
    measured: float | None,
    *,
    at_least: float | None = None,
    at_most: float | None = None,
    figure: str = "stream.drive.gap_ms.max",
) -> float:
    return margin_of(
        RequirementFigures(
            figure=figure, at_least=at_least, at_most=at_most, measured=measured, ok=None, why=""
        )
    )


@given(st.floats(0, 1e6), st.floats(1e-3, 1e6))
def test_it_is_not_below_zero_exactly_if_the_limit_holds(measured: float, limit: float) -> None:
    assert (margin(measured, at_most=limit) >= 0) == (measured <= limit)
    assert (margin(measured, at_least=limit) >= 0) == (measured >= limit)


@given(st.floats(0, 1), st.floats(0.01, 0.99))
def test_of_a_share_it_is_what_is_missing_that_counts(measured: float, limit: float) -> None:
    found = margin(measured, at_least=limit, figure="stream.drive.delivery_ratio")

    assert (found >= 0) == (1 - measured <= 1 - limit)
    assert -1 <= found <= 1


def test_half_of_what_may_be_missing_is_half_a_margin() -> None:
    found = margin(0.75, at_least=0.5, figure="stream.drive.delivery_ratio")

    assert found == 0.5
    assert margin(100, at_most=200) == 0.5
    assert margin(30, at_least=20) == 0.5


def test_a_limit_of_zero_is_held_in_full_or_missed() -> None:
    assert margin(0, at_most=0) == 1
    assert margin(3, at_most=0) == -1
    assert margin(2, at_least=0) == 1
    assert margin(-2, at_least=0) == -1


def test_no_margin_is_lower_than_missing_by_the_limit_itself() -> None:
    assert margin(1e6, at_most=200) == -1
    assert margin(None, at_most=200) == -1


def test_a_fault_that_was_noticed_is_no_reason_to_notice_more() -> None:
    figure = "stream.drive.failsafe.trips_on_fault"

    assert margin(7, at_least=1, figure=figure) == margin(1, at_least=1, figure=figure) == 1
    assert margin(0, at_least=1, figure=figure) == -1


def test_a_scenario_that_asks_for_nothing_is_asked_for_the_usual() -> None:
    given, said = with_requirements(two())

    assert "stream.drive.gap_ms.max at most 250" in said
    assert "stream.head.gap_ms.max at most 200" in said
    assert len(given.requirement) == len(said)


def test_a_stopping_time_is_left_to_the_drill() -> None:
    asked = "requirement=[{ figure = 'worst.drive.reaction_ms', at_most = 500 }, %s]"
    hole = "{ figure = 'stream.drive.gap_ms.max', at_most = 90 }"
    given, said = with_requirements(two(asked % hole))

    assert [requirement.figure for requirement in given.requirement] == ["stream.drive.gap_ms.max"]
    assert said == ()


@pytest.mark.parametrize("name", [shipped_one.name for shipped_one in shipped_scenarios()])
def test_a_lean_scenario_has_the_same_streams(name: str) -> None:
    whole = shipped(name, "duration_s=5")
    kept, all_of_it = tally_flow(flow(lean(whole))), tally_flow(flow(whole))

    for stream, tally in all_of_it.streams.items():
        mine = kept.streams[stream]
        assert (mine.read, mine.longest_gap_ns, mine.attempts) == (
            tally.read,
            tally.longest_gap_ns,
            tally.attempts,
        )
        assert mine.failsafe == tally.failsafe
        assert (mine.latency.weights == tally.latency.weights).all()


def test_outputs_that_are_asked_about_stay() -> None:
    given = shipped("culvert-crawler")

    assert set(lean(given).output) == {"left_track", "pan"}
    assert set(lean(given, "output.tilt.update_rate_hz").output) == {"left_track", "pan", "tilt"}


FAULTY = """
radio.profile = "gfsk-1M"
duration_s = 8
starts = 2
air.loss = {loss}
transmitter.drive = {{ period_ms = 20, payload_bytes = 4 }}
transmitter.head = {{ period_ms = {period}, payload_bytes = 4 }}
fault = [ {{ at_s = 4, for_s = {off_s}, kind = "power_off", unit = "{unit}" }} ]
requirement = [ {{ figure = "stream.drive.{figure}", at_most = {most} }} ]
"""


@examples(60, deadline=None)
@given(
    loss=st.sampled_from((0, 0.1, 0.6)),
    period=st.sampled_from((20, 27)),
    off_s=st.sampled_from((0.2, 2.0)),
    unit=st.sampled_from(("drive", "head", "receiver")),
    asked=st.sampled_from((("gap_ms.max", 100), ("gap_ms.max", 1500), ("age_ms.p99", 60))),
)
def test_a_scripted_fault_is_the_cause_of_what_holds_without_it_and_of_nothing_else(
    loss: float, period: float, off_s: float, unit: str, asked: tuple[str, float]
) -> None:
    figure, most = asked
    values = {"loss": loss, "period": period, "off_s": off_s, "unit": unit}
    link = parse(FAULTY.format(**values, figure=figure, most=most))
    row = judged(link, "auto", None, ())
    calm = judged(msgspec.structs.replace(link, fault=()), "auto", None, ())

    if row["cause"] == FAULT:
        assert not row["ok"]
    if not row["ok"] and calm["ok"]:
        assert row["cause"] == FAULT
    if not row["ok"] and not calm["ok"] and row["worst"] == calm["worst"]:
        assert row["cause"] == calm["cause"]


def test_figures_of_a_point_stand_in_one_order_whatever_a_process_hashes_to() -> None:
    worst = figures_at_point(SCENARIO, "auto", None).worst

    assert list(worst) == sorted(worst)
