"""Every shipped scenario has its sheet; its predicted ranges hold those of a separate run."""

import re
from functools import cache

import msgspec
import numpy as np
import pytest

from radiosim.engine.simulate import simulate
from radiosim.scenario import Scenario, load, parse
from radiosim.scenario.shipped import shipped_scenario, shipped_scenarios
from radiosim.study.bench import BenchTestSheet, Prediction, StepCase, bench_test_sheet
from radiosim.study.bench.beat_steps import beat_chapter, spacing_s
from radiosim.study.bench.fault_steps import NOT_DRIVEN
from radiosim.study.bench.step import DRILLED, UNTOUCHED, labelled
from radiosim.study.tune.period_pairs import clocked_of, pairs_of
from radiosim.trace import DEAF, READ
from tests.study.drill.scenarios import HEAD, TIMER, rare, scenario_with

NAMES = [shipped_one.name for shipped_one in shipped_scenarios()]


def shipped(name: str, *overrides: str) -> Scenario:
    given = shipped_scenario(name)
    assert given is not None
    return load(given.path, overrides)


@cache
def sheet_of(name: str, starts: int = 3, minutes: float = 0.1, *overrides: str) -> BenchTestSheet:
    return bench_test_sheet(shipped(name, *overrides), starts=starts, minutes=minutes, workers=1)


def cases_of(sheet: BenchTestSheet) -> list[StepCase]:
    return [case for step in sheet.steps for case in step.cases]


def case_of(sheet: BenchTestSheet, key: str) -> StepCase:
    (found,) = (case for case in cases_of(sheet) if case.key == key)
    return found


def named(case: StepCase, words: str) -> Prediction:
    (found,) = (prediction for prediction in case.predicted if words in prediction.what)
    return found


def asked(case: StepCase, output: str, aspect: str) -> Prediction:
    (found,) = (
        prediction
        for prediction in case.predicted
        if (prediction.of, prediction.aspect) == (output, aspect)
    )
    return found


@pytest.mark.parametrize("name", NAMES)
def test_every_shipped_scenario_has_a_sheet(name: str) -> None:
    sheet, scenario = sheet_of(name), shipped(name)
    keys = [case.key for case in cases_of(sheet)]

    assert len(set(keys)) == len(keys)
    assert len({step.key for step in sheet.steps}) == len(sheet.steps)
    assert all(case.predicted for case in cases_of(sheet))
    assert {f"power_off.{unit}" for unit in scenario.transmitter} <= set(keys)
    assert {f"updates.{output}" for output in scenario.output} <= set(keys)


@pytest.mark.parametrize("name", NAMES)
def test_no_range_stands_on_its_head(name: str) -> None:
    ends = [
        (prediction.low, prediction.high)
        for case in cases_of(sheet_of(name))
        for prediction in case.predicted
    ]

    assert all(low is None or (high is not None and low <= high) for low, high in ends)


def test_a_scenario_has_no_step_for_what_it_has_not() -> None:
    keys = [case.key for case in cases_of(sheet_of("still-stick"))]

    assert not any(key.startswith("beat.") for key in keys)
    assert "power_off.all" not in keys
    assert not any("jam" in key or "out_of_range" in key for key in keys)


def test_plain_frames_are_not_retried() -> None:
    assert not any(step.key == "retries_used_up" for step in sheet_of("twin-clocks").steps)


@pytest.mark.slow
def test_the_sheet_does_not_depend_on_how_many_work_on_it() -> None:
    two = bench_test_sheet(shipped("smallest"), starts=3, minutes=0.1, workers=2)

    assert two == sheet_of("smallest")


@pytest.mark.slow
def test_other_starts_fall_into_the_ranges_of_counts() -> None:
    case = case_of(sheet_of("culvert-crawler", 39, 0.5), "reads.drive")
    scenario = msgspec.structs.replace(
        shipped("culvert-crawler", "seed=99"), fault=(), requirement=(), duration_s=33.6
    )
    rates, gaps = [], []
    for start in range(1, 31):
        reads = simulate(scenario, start=start).reads
        at = np.sort(reads[(reads["stream"] == 0) & (reads["outcome"] == READ)]["read_ns"])
        at = at[at >= 3_600_000_000]
        rates.append(len(at) / 30)
        gaps.append(np.diff(at).max() / 1e6)

    # Each is inside with 95 %: that fewer than 22 of 30 are has a chance below 1 in 10,000.
    assert inside(named(case, "frames read"), rates) >= 22
    assert inside(named(case, "longest gap"), gaps) >= 22


def inside(predicted: Prediction, values: list[float]) -> int:
    assert predicted.low is not None
    assert predicted.high is not None
    # Both ends of a rate that is counted move by one count.
    slack = 1 / 30 + 1e-9
    return sum(predicted.low - slack <= value <= predicted.high + slack for value in values)


@pytest.mark.slow
def test_a_reaction_keeps_within_its_bound() -> None:
    case = case_of(sheet_of("culvert-crawler", 39, 0.1), "power_off.drive")
    reaction, bound = asked(case, "left_track", "reaction"), asked(case, "left_track", "bound")

    assert reaction.high is not None
    assert bound.high is not None
    assert 200 < reaction.high <= bound.high < 300


@pytest.mark.slow
def test_a_hand_that_rests_is_not_waited_for() -> None:
    sheet = sheet_of("culvert-crawler", 39, 0.1)
    back = asked(case_of(sheet, "power_off.drive"), "left_track", "back")

    # A boot, five frames of 20 ms and their jitter, a pass, a refresh and a pulse.
    assert back.low is not None
    assert back.high is not None
    assert 500 + 80 < back.low < back.high < 500 + 130
    assert any("throttle of drive at neutral" in note for note in sheet.notes)


def test_another_streams_outputs_go_on() -> None:
    case = case_of(sheet_of("culvert-crawler", 39, 0.1), "power_off.drive")

    assert asked(case, "pan", "others").text == UNTOUCHED


def test_a_timer_that_others_feed_is_told() -> None:
    case = case_of(sheet_of("shared-timer"), "power_off.drive")

    assert any(
        "STILL DRIVEN" in prediction.text and "feeds drive's timer" in prediction.text
        for prediction in case.predicted
    )


def test_steps_in_which_something_goes_on_turning_are_named_first() -> None:
    sheet = sheet_of("shared-timer")
    (label,) = (label for label, _, step in labelled(sheet.steps) if step.key == "power_off.drive")

    assert f" {label} off and on again" in sheet.hazards[0]
    assert "Wheels off the ground" in sheet.cautions[0]


@pytest.mark.parametrize("name", NAMES)
def test_every_output_that_is_still_driven_is_named_with_its_step(name: str) -> None:
    sheet = sheet_of(name)
    driven = {
        (prediction.of, label)
        for label, _, case in labelled(sheet.steps)
        for prediction in case.predicted
        if prediction.text.startswith("STILL DRIVEN")
    }

    for output, label in driven:
        # After the verdict the outputs, then the cause, then the steps.
        assert any(
            output in text.split(": ")[1].split(", ")
            and label in re.findall(r"\b\d+[a-z]?\b", text.split(": ", 2)[2])
            for text in sheet.hazards
        )
    assert bool(driven) == bool(sheet.hazards)


def test_a_hang_without_watchdog_has_no_way_back() -> None:
    case = case_of(sheet_of("smallest"), "hang.receiver")

    assert all(
        "STILL DRIVEN" in prediction.text or "holds" in prediction.text
        for prediction in case.predicted
    )


def test_a_reset_tells_the_reboot_by_the_receivers_clock() -> None:
    reboot = named(case_of(sheet_of("culvert-crawler"), "reset.receiver"), "reboot")

    # A crystal is off by 60 ppm at most (PS front page).
    assert (reboot.low, reboot.high) == (pytest.approx(599.964), pytest.approx(600.036))


def test_clocks_of_known_error_beat_every_product_over_difference() -> None:
    scenario = shipped(
        "twin-clocks", "transmitter.drive.clock_ppm=60", "transmitter.head.clock_ppm=-60"
    )
    (pair,) = pairs_of(scenario)

    # Source: two periodic transmitters, facts 5: 20 ms, 120 ppm apart: every 166.7 s (D).
    assert spacing_s(clocked_of(scenario), pair, 0.5) == pytest.approx(166.7, abs=0.1)


def test_pairs_that_beat_later_than_is_waited_for_are_told_of() -> None:
    drawn = beat_chapter(shipped("twin-clocks"))
    exact = beat_chapter(
        shipped("twin-clocks", "transmitter.drive.clock_ppm=60", "transmitter.head.clock_ppm=-60")
    )

    assert drawn is not None
    assert exact is not None
    assert "95 of 100 pairs" in named(drawn.steps[0].cases[0], "burst to burst").text
    assert named(exact.steps[0].cases[0], "burst to burst").text == ""


def test_drawn_clocks_beat_as_often_as_their_difference_says() -> None:
    scenario = shipped("twin-clocks")
    (pair,) = pairs_of(scenario)
    # The difference of two even draws is a triangle: P(below x) = 1 - (1 - x/w)^2.
    for share in (0.5, 0.95):
        slip = 120e-6 * (1 - share**0.5)
        assert spacing_s(clocked_of(scenario), pair, share) == pytest.approx(0.02 / slip, rel=0.03)


def test_frames_that_end_failsafe_are_waited_for() -> None:
    sheet = bench_test_sheet(rare(), starts=3, minutes=0.1, workers=1)

    texts = [prediction.text for case in cases_of(sheet) for prediction in case.predicted]
    assert NOT_DRIVEN not in texts
    assert any(
        "not back" in prediction.text
        for prediction in case_of(sheet, "radio_reset.drive").predicted
    )


def test_an_output_that_is_never_driven_is_not_said_to_go_on() -> None:
    made = scenario_with(TIMER + HEAD)
    deaf = msgspec.structs.replace(made, air=msgspec.structs.replace(made.air, loss=1.0))
    sheet = bench_test_sheet(deaf, starts=2, minutes=0.1, workers=1)

    case = case_of(sheet, "power_off.drive")
    assert not any(prediction.text == UNTOUCHED for prediction in case.predicted)
    assert asked(case, "pan", "others").text == NOT_DRIVEN


def test_what_several_units_do_is_one_step_with_a_case_for_each() -> None:
    sheet = sheet_of("culvert-crawler")
    step = next(step for step in sheet.steps if step.key == "power_off")
    number = sheet.steps.index(step) + 1

    assert [case.title for case in step.cases] == ["drive", "head", "all transmitters"]
    labels = [label for label, entry, _ in labelled(sheet.steps) if entry is step]
    assert labels == [f"{number}a", f"{number}b", f"{number}c"]


def test_a_step_of_one_case_has_no_letter() -> None:
    sheet = sheet_of("still-stick")

    assert all(label.isdigit() for label, step, _ in labelled(sheet.steps) if len(step.cases) == 1)


def test_settings_are_named_whole_where_there_is_one_to_name() -> None:
    one, two = sheet_of("still-stick"), sheet_of("smallest")
    (transmitter,) = shipped("still-stick").transmitter

    assert f"transmitter.{transmitter}.spi_hz" in one.steps[0].if_not
    assert "transmitter.NAME.spi_hz" in two.steps[0].if_not


@pytest.mark.parametrize("name", NAMES)
def test_every_number_says_what_can_be_told_apart(name: str) -> None:
    for case in cases_of(sheet_of(name)):
        for prediction in case.predicted:
            assert prediction.is_seen == (prediction.resolution == 0)


@pytest.mark.parametrize("name", NAMES)
def test_what_a_fault_shows_is_drilled_and_its_bound_is_not(name: str) -> None:
    for case in cases_of(sheet_of(name)):
        for prediction in case.predicted:
            if prediction.aspect in ("reaction", "back", "others"):
                assert prediction.source == DRILLED
            if prediction.aspect in ("bound", "reboot"):
                assert prediction.source == "closed form"


@pytest.mark.slow
def test_a_reaction_past_its_bound_is_explained() -> None:
    case = case_of(sheet_of("club-meet", 39), "stale.drive")
    reaction, bound = asked(case, "throttle", "reaction"), asked(case, "throttle", "bound")

    # A frame that the receiver missed is new to it when it is repeated.
    assert reaction.high is not None
    assert bound.high is not None
    assert reaction.high > bound.high
    assert "one of the repeats" in bound.text


def test_three_transmitters_beat_in_pairs() -> None:
    scenario = parse(
        """
title = "Three"
radio.profile = "gfsk-1M"
transmitter.a = { period_ms = 20, payload_bytes = 4 }
transmitter.b = { period_ms = 20, payload_bytes = 4 }
transmitter.c = { period_ms = 23, payload_bytes = 4 }
"""
    )
    chapter = beat_chapter(scenario)

    assert chapter is not None
    assert [step.key for step in chapter.steps] == ["beat", "passing"]
    keys = [case.key for step in chapter.steps for case in step.cases]
    assert keys == ["beat.a.b", "beat.a.c", "beat.b.c"]


def test_clocks_that_never_drift_apart_are_met_by_power_on() -> None:
    exact = ("transmitter.drive.clock_ppm=0", "transmitter.head.clock_ppm=0")
    chapter = beat_chapter(shipped("twin-clocks", *exact))

    assert chapter is not None
    (step,) = chapter.steps
    assert step.key == "beat.fixed"
    assert "twenty times" in step.do
    assert step.cases[0].predicted[0].high == float("inf")


GRIDS = """
title = "Grids"
duration_s = 1200
radio = { profile = "gfsk-1M", channel = 72 }
air.loss = 0
transmitter.drive = { period_ms = 20, payload_bytes = 8, acknowledge = false, clock_ppm = 150 }
receiver = { read = "all", clock_ppm = -150 }
"""


@pytest.mark.parametrize(
    ("name", "key"),
    [
        ("receiver.deaf[0]", "receiver.deaf=[{every_ms=20, for_ms=1}]"),
        ("receiver.deaf[0]", "receiver.deaf=[{every_ms=10, for_ms=0.6}]"),
        ("receiver.deaf[0]", "receiver.deaf=[{every_ms=20.001, for_ms=1}]"),
    ],
)
def test_a_beat_with_a_grid_is_predicted_and_comes_so(name: str, key: str) -> None:
    scenario = parse(GRIDS, overrides=[key])
    chapter = beat_chapter(scenario)
    assert chapter is not None
    (case,) = (one for step in chapter.steps if step.key == "beat" for one in step.cases)
    lost = simulate(scenario, start=1).attempts
    lost_s = lost["start_ns"][lost["fate"] == DEAF] / 1e9
    begins = lost_s[1:][np.diff(lost_s) > 1]
    ends = lost_s[:-1][np.diff(lost_s) > 1]

    assert (case.key, case.title) == (f"beat.drive.{name[:-3]}.0", f"drive and {name}")
    for what, seen_s in (
        ("burst to burst", np.diff(begins)),
        ("length of a burst", ends[1:] - begins[:-1]),
    ):
        predicted = named(case, what)
        assert len(seen_s) > 3
        assert predicted.low is not None
        assert predicted.high is not None
        assert (seen_s >= predicted.low - 0.1).all()
        assert (seen_s <= predicted.high + 0.1).all()


def test_a_receiver_that_no_transmitter_beats_with_has_no_bursts() -> None:
    deaf = "receiver.deaf=[{every_ms=23, for_ms=1}]"
    chapter = beat_chapter(parse(GRIDS, overrides=[deaf]))

    assert chapter is not None
    assert [step.key for step in chapter.steps] == ["passing"]
    (prediction,) = chapter.steps[0].cases[0].predicted
    assert prediction.high == pytest.approx(100 * 1.128 / 23, rel=1e-3)
