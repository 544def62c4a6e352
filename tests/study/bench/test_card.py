"""Every scene that ships has its card, and its bands are those of a second, separate run."""

from functools import cache

import msgspec
import numpy as np
import pytest

from radiosim.engine.simulate import simulate
from radiosim.scenario import Scenario, load
from radiosim.scenario.shipped import shipped_scene, shipped_scenes
from radiosim.study.bench import Card, Prediction, Step, bench_card
from radiosim.study.bench.faults import NOT_ALIVE
from radiosim.study.bench.meeting import spacing_s
from radiosim.study.tune.pairs import pairs_of
from radiosim.trace import READ
from tests.study.drill.scenes import LOOK, TIMER, rare, scene

NAMES = [it.name for it in shipped_scenes()]


def shipped(name: str, *overrides: str) -> Scenario:
    scene = shipped_scene(name)
    assert scene is not None
    return load(scene.path, overrides)


@cache
def card_of(name: str, starts: int = 3, minutes: float = 0.1, *overrides: str) -> Card:
    return bench_card(shipped(name, *overrides), starts=starts, minutes=minutes, workers=1)


def step_of(card: Card, key: str) -> Step:
    (found,) = (step for step in card.steps if step.key == key)
    return found


def named(step: Step, words: str) -> Prediction:
    (found,) = (it for it in step.predicted if words in it.what)
    return found


@pytest.mark.parametrize("name", NAMES)
def test_every_shipped_scene_has_a_card(name: str) -> None:
    card, scenario = card_of(name), shipped(name)
    keys = [step.key for step in card.steps]

    assert len(set(keys)) == len(keys)
    assert all(step.predicted for step in card.steps)
    assert {f"power_off.{unit}" for unit in scenario.transmitter} <= set(keys)
    assert {f"updates.{output}" for output in scenario.output} <= set(keys)


@pytest.mark.parametrize("name", NAMES)
def test_no_band_stands_on_its_head(name: str) -> None:
    ends = [(it.low, it.high) for step in card_of(name).steps for it in step.predicted]

    assert all(low is None or (high is not None and low <= high) for low, high in ends)


def test_a_scene_has_no_step_for_what_it_has_not() -> None:
    keys = [step.key for step in card_of("still-stick").steps]

    assert not any(key.startswith("meeting.") for key in keys)
    assert "power_off.all" not in keys
    assert not any("jam" in key or "out_of_range" in key for key in keys)


def test_plain_frames_are_not_given_up() -> None:
    assert not any(step.key.startswith("giving_up.") for step in card_of("twin-clocks").steps)


def test_the_card_does_not_depend_on_how_many_work_on_it() -> None:
    two = bench_card(shipped("smallest"), starts=3, minutes=0.1, workers=2)

    assert two == card_of("smallest")


def test_other_starts_fall_into_the_bands_of_counts() -> None:
    step = step_of(card_of("culvert-crawler", 39, 0.5), "reads.drive")
    scenario = msgspec.structs.replace(
        shipped("culvert-crawler", "seed=99"), fault=(), requirement=(), duration_s=33.6
    )
    rates, holes = [], []
    for start in range(1, 31):
        reads = simulate(scenario, start=start).reads
        at = np.sort(reads[(reads["stream"] == 0) & (reads["outcome"] == READ)]["read_ns"])
        at = at[at >= 3_600_000_000]
        rates.append(len(at) / 30)
        holes.append(np.diff(at).max() / 1e6)

    # Each is inside with 95 %: that fewer than 22 of 30 are has a chance below 1 in 10,000.
    assert inside(named(step, "read a second"), rates) >= 22
    assert inside(named(step, "longest time"), holes) >= 22


def inside(band: Prediction, values: list[float]) -> int:
    assert band.low is not None
    assert band.high is not None
    # Both ends of a rate that is counted move by one count.
    slack = 1 / 30 + 1e-9
    return sum(band.low - slack <= value <= band.high + slack for value in values)


def test_a_stop_keeps_within_its_bound() -> None:
    step = step_of(card_of("culvert-crawler", 39, 0.1), "power_off.drive")
    stop, bound = named(step, "left_track: until"), named(step, "left_track: however")

    assert stop.high is not None
    assert bound.high is not None
    assert 200 < stop.high <= bound.high < 300


def test_a_hand_that_rests_is_not_waited_for() -> None:
    card = card_of("culvert-crawler", 39, 0.1)
    back = named(step_of(card, "power_off.drive"), "left_track: from")

    # Five frames of 20 ms and their jitter, a pass, a refresh and a pulse.
    assert back.low is not None
    assert back.high is not None
    assert 80 < back.low < back.high < 130
    assert any("throttle of drive at neutral" in note for note in card.notes)


def test_another_streams_outputs_go_on() -> None:
    step = step_of(card_of("culvert-crawler", 39, 0.1), "power_off.drive")

    assert "as if nothing had happened" in named(step, "(of look)").text


def test_a_timer_that_others_feed_is_told() -> None:
    step = step_of(card_of("shared-timer"), "power_off.drive")

    assert any(
        "STAYS ALIVE" in it.text and "feeds drive's timer" in it.text for it in step.predicted
    )


def test_steps_in_which_something_goes_on_turning_are_named_first() -> None:
    card = card_of("shared-timer")
    (number,) = (n for n, it in enumerate(card.steps, start=1) if it.key == "power_off.drive")

    assert any(text.startswith(f"Step {number}, ") for text in card.cautions)
    assert "Wheels off the ground" in next(t for t in card.cautions if not t.startswith("Step"))


def test_a_hang_without_watchdog_has_no_way_back() -> None:
    step = step_of(card_of("smallest"), "hang.receiver")

    assert all("STAYS ALIVE" in it.text or "holds" in it.text for it in step.predicted)


def test_a_reset_tells_the_reboot_by_the_receivers_clock() -> None:
    reboot = named(step_of(card_of("culvert-crawler"), "reset.receiver"), "reboot")

    # A crystal is off by 60 ppm at most (PS front page).
    assert (reboot.low, reboot.high) == (pytest.approx(599.964), pytest.approx(600.036))


def test_clocks_of_known_error_meet_every_product_over_difference() -> None:
    scenario = shipped(
        "twin-clocks", "transmitter.drive.clock_ppm=60", "transmitter.look.clock_ppm=-60"
    )
    (pair,) = pairs_of(scenario)

    # Source: two periodic senders, facts 5: 20 ms, 120 ppm apart: every 166.7 s (D).
    assert spacing_s(scenario, pair, 0.5) == pytest.approx(166.7, abs=0.1)


def test_drawn_clocks_meet_as_often_as_their_difference_says() -> None:
    scenario = shipped("twin-clocks")
    (pair,) = pairs_of(scenario)
    # The difference of two even draws is a triangle: P(below x) = 1 - (1 - x/w)^2.
    for share in (0.5, 0.95):
        slip = 120e-6 * (1 - share**0.5)
        assert spacing_s(scenario, pair, share) == pytest.approx(0.02 / slip, rel=0.03)


def test_frames_that_end_failsafe_are_waited_for() -> None:
    card = bench_card(rare(), starts=3, minutes=0.1, workers=1)

    texts = [it.text for step in card.steps for it in step.predicted]
    assert not any("not alive in this scene" in text for text in texts)
    assert any(
        "does not come back" in it.text for it in step_of(card, "radio_reset.drive").predicted
    )


def test_an_output_that_is_never_alive_is_not_said_to_go_on() -> None:
    made = scene(TIMER + LOOK)
    deaf = msgspec.structs.replace(made, air=msgspec.structs.replace(made.air, loss=1.0))
    card = bench_card(deaf, starts=2, minutes=0.1, workers=1)

    step = step_of(card, "power_off.drive")
    assert not any("go on as if" in it.text for it in step.predicted)
    assert named(step, "pan").text == NOT_ALIVE
