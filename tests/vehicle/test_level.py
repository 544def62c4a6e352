"""From fields to the level of an output."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.scenario.structs.output import Output
from radiosim.vehicle.fold.level import Scale, level_of
from radiosim.vehicle.fold.records import FAILSAFE, STARTED, WRITTEN
from radiosim.vehicle.kept import OutputRecord, run_vehicle
from radiosim.vehicle.level import preset_level, scale_of, start_level
from tests.traces import read, scenario_with, trace_of


def track(*overrides: str) -> Output:
    """The output `track` of the scenario with some of its keys set."""
    return scenario_with(*(f"output.track.{override}" for override in overrides)).output["track"]


def level(mixed: float, *overrides: str) -> float:
    """What it comes to."""
    return level_of(scale_of(track(*overrides)), mixed)


@pytest.mark.parametrize(
    ("value", "pulse_us"), [(-1.0, 1000), (0.0, 1500), (0.5, 1750), (1.0, 2000), (3.0, 2000)]
)
def test_the_ends_of_the_value_are_the_ends_of_the_pulse(value: float, pulse_us: float) -> None:
    assert level(value) == pulse_us * 1000


def test_reversed_pulses_turn_the_other_way() -> None:
    reversed_ = "pulse_us=[2000, 1000]"

    assert level(-1.0, reversed_) == 2_000_000
    assert level(0.5, reversed_) == 1_250_000
    scale = scale_of(track(reversed_))
    assert (scale.least_ns, scale.most_ns) == (1_000_000, 2_000_000)


def test_limits_cut_what_the_value_asks_for() -> None:
    limits = "limit_us=[1100, 1900]"

    assert level(-1.0, limits) == 1_100_000
    assert level(1.0, limits) == 1_900_000
    assert level(0.5, limits) == 1_750_000


pulses_us = st.floats(500, 2500)


@given(st.tuples(pulses_us, pulses_us), st.tuples(pulses_us, pulses_us), st.floats(-5, 5))
def test_limits_are_never_left(
    pulse_us: tuple[float, float], limit_us: tuple[float, float], value: float
) -> None:
    least_ns, most_ns = sorted(limit * 1000 for limit in limit_us)
    scale = Scale(
        low=-1.0,
        high=1.0,
        has_pulses=1,
        first_ns=pulse_us[0] * 1000,
        last_ns=pulse_us[1] * 1000,
        least_ns=least_ns,
        most_ns=most_ns,
    )

    assert least_ns - 0.5 <= level_of(scale, value) <= most_ns + 0.5


def outcome(*overrides: str) -> OutputRecord:
    """What the output of one stream did with its first two frames, one fifth of a second apart."""
    scenario = scenario_with("failsafe.drive.timeout_ms=50", *overrides)
    return run_vehicle(trace_of(scenario, [read(30, 7), read(130, 8)])).outputs["track"]


def test_a_mix_is_a_weighted_sum() -> None:
    mix = (
        "output.track={stream='drive', mix={throttle=1.0, count=-0.5}, value=[-10, 10], "
        "kind='pwm', on_failsafe='off'}",
    )

    # Frames 7 and 8; the throttle stands at 0, then at 1.
    assert outcome(*mix).told["level"][[1, 3]].tolist() == [0.0 - 3.5, 1.0 - 4.0]


def test_a_pwm_output_takes_the_value_itself() -> None:
    pwm = ("kind='pwm'", "on_failsafe={preset=0.2}")

    assert level(0.3, *pwm) == 0.3
    assert level(7.0, *pwm) == 1.0


def test_no_pulses_until_the_first_frame_unless_it_says_so() -> None:
    assert math.isnan(start_level(track()))
    assert start_level(track("at_start=1400")) == 1_400_000


def test_a_start_pulse_keeps_to_the_limits() -> None:
    assert start_level(track("at_start=1050", "limit_us=[1100, 1900]")) == 1_100_000


def test_a_pwm_output_starts_with_a_value() -> None:
    assert start_level(track("kind='pwm'", "on_failsafe='off'", "at_start=0.0")) == 0.0


def test_hold_keeps_what_was_held() -> None:
    told = outcome("output.track.on_failsafe='hold'").told

    assert told["kind"].tolist() == [STARTED, WRITTEN, FAILSAFE, WRITTEN, FAILSAFE]
    assert told["level"].tolist()[1:] == [1_500_000, 1_500_000, 2_000_000, 2_000_000]
    assert told["frame"].tolist() == [-1, 7, 7, 8, 8]


def test_off_is_no_pulse() -> None:
    levels = outcome("output.track.on_failsafe='off'").told["level"]

    assert levels[1::2].tolist() == [1_500_000, 2_000_000]
    assert np.isnan(levels[::2]).all()


def test_a_preset_keeps_to_the_limits() -> None:
    assert preset_level(track()) == 1_500_000
    assert preset_level(track("limit_us=[1600, 1900]")) == 1_600_000


def test_a_pwm_preset_is_a_value() -> None:
    assert preset_level(track("kind='pwm'", "on_failsafe={preset=0.2}")) == 0.2


def test_hold_and_off_have_no_preset() -> None:
    assert math.isnan(preset_level(track("on_failsafe='hold'")))
    assert math.isnan(preset_level(track("on_failsafe='off'")))
