"""One point, judged."""

import json

import pytest

from radiosim.scenario import Scenario
from radiosim.study.sequential import Narrow
from radiosim.study.starts import simulate_starts
from radiosim.study.tune.point import judged
from radiosim.study.tune.wanted import with_requirements
from tests.study.tune.scenarios import shipped, two

SCENARIO, _ = with_requirements(two("air.loss=0.2"))


def test_its_figures_are_those_of_a_run_of_the_changed_scenario() -> None:
    row = judged(SCENARIO, "auto", None, ("transmitter.drive.period_ms=31",))
    run = simulate_starts(two("air.loss=0.2", "transmitter.drive.period_ms=31"), workers=1)
    drive = run.figures.stream["drive"]

    assert row["starts"] == 2
    assert row["streams"]["drive"]["update_rate_hz"] == drive.update_rate_hz
    assert row["streams"]["drive"]["delivery_ratio"] == drive.delivery_ratio
    assert row["worst"]["stream.drive.gap_ms.max"] == run.worst["stream.drive.gap_ms.max"].value
    both = run.figures.stream.values()
    assert row["duty_cycle"] == sum(it.duty_cycle for it in both)
    assert row["charge_mah_per_hour"] == sum(it.charge_mah_per_hour for it in both)


@pytest.mark.parametrize("name", ["culvert-crawler", "twin-clocks", "late-goggles"])
def test_requirements_are_judged_as_a_run_judges_them(name: str) -> None:
    given, _ = with_requirements(shipped(name, "starts=3", "duration_s=20"))
    row, run = judged(given, "auto", None, ()), simulate_starts(given, workers=1)

    assert row["measured"] == {it.figure: it.measured for it in run.requirements}
    assert row["missed"] == sum(it.ok is False for it in run.requirements)


def test_a_row_is_what_json_can_hold() -> None:
    row = judged(SCENARIO, "auto", None, ())

    assert json.loads(json.dumps(row, allow_nan=False)) == json.loads(json.dumps(row))


@pytest.mark.parametrize(("period_ms", "holds"), [(20, True), (300, False)])
def test_a_cause_is_told_of_what_misses_and_of_nothing_else(period_ms: int, holds: bool) -> None:
    row = judged(SCENARIO, "auto", None, (f"transmitter.drive.period_ms={period_ms}",))

    assert (row["margin"] >= 0) == holds
    assert (row["cause"] == "") == holds


def test_settings_that_make_no_sound_scenario_are_refused_in_a_row() -> None:
    row = judged(SCENARIO, "auto", None, ("transmitter.head.retry_delay_us=100",))

    assert set(row) == {"refused"}
    assert "retry_delay_us" in row["refused"]


def more(starts: int) -> Scenario:
    return with_requirements(two("air.loss=0.2", f"starts={starts}", "duration_s=2"))[0]


def test_starts_are_added_until_the_figure_is_narrow_enough() -> None:
    wide = Narrow(figure="stream.drive.delivery_ratio", half_width=0.5)
    narrow = Narrow(figure="stream.drive.delivery_ratio", half_width=1e-9)
    few, all_of_them = (judged(more(20), "auto", it, ()) for it in (wide, narrow))

    assert (few["starts"], few["is_narrow"]) == (8, True)
    assert (all_of_them["starts"], all_of_them["is_narrow"]) == (20, False)
    low, high = few["interval"]
    assert low <= few["streams"]["drive"]["delivery_ratio"] <= high


def test_clocks_that_meet_are_the_cause_of_what_they_take() -> None:
    given, _ = with_requirements(shipped("twin-clocks", "starts=3", "duration_s=20"))

    assert judged(given, "auto", None, ())["cause"] == "clocks beat"
    assert judged(given, "auto", None, ("transmitter.head.period_ms=23",))["cause"] == ""
