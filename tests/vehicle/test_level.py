"""From fields to the level of an output."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.engine.plan import make_plan
from radiosim.scenario.structs.output import Output
from radiosim.vehicle.level import Levels, failsafe_level, levels_of, start_level
from tests.traces import scene


def track(*overrides: str) -> tuple[Output, Levels]:
    """The output `track` of the scene with some of its keys set, and its levels."""
    scenario = scene(*(f"output.track.{override}" for override in overrides))
    output = scenario.output["track"]
    return output, levels_of(output, make_plan(scenario, 0).payloads[0])


@pytest.mark.parametrize(
    ("value", "pulse_us"), [(-1.0, 1000), (0.0, 1500), (0.5, 1750), (1.0, 2000), (3.0, 2000)]
)
def test_the_ends_of_the_value_are_the_ends_of_the_pulse(value: float, pulse_us: float) -> None:
    assert track()[1].of_value(value) == pulse_us * 1000


def test_reversed_pulses_turn_the_other_way() -> None:
    levels = track("pulse_us=[2000, 1000]")[1]

    assert levels.of_value(-1.0) == 2_000_000
    assert levels.of_value(0.5) == 1_250_000
    assert levels.limit_ns == (1_000_000, 2_000_000)


def test_limits_cut_what_the_value_asks_for() -> None:
    levels = track("limit_us=[1100, 1900]")[1]

    assert levels.of_value(-1.0) == 1_100_000
    assert levels.of_value(1.0) == 1_900_000
    assert levels.of_value(0.5) == 1_750_000


pulses_us = st.floats(500, 2500)


@given(st.tuples(pulses_us, pulses_us), st.tuples(pulses_us, pulses_us), st.floats(-5, 5))
def test_limits_are_never_left(
    pulse_us: tuple[float, float], limit_us: tuple[float, float], value: float
) -> None:
    low_ns, high_ns = sorted(limit * 1000 for limit in limit_us)
    levels = Levels(
        weights=(),
        low=-1.0,
        high=1.0,
        pulse_ns=(pulse_us[0] * 1000, pulse_us[1] * 1000),
        limit_ns=(low_ns, high_ns),
    )

    assert low_ns - 0.5 <= levels.of_value(value) <= high_ns + 0.5


def test_a_mix_is_a_weighted_sum() -> None:
    scenario = scene("output.both={stream='drive', mix={throttle=1.0, count=-0.5}, value=[-1, 1]}")
    levels = levels_of(scenario.output["both"], make_plan(scenario, 0).payloads[0])

    assert levels.mixed(lambda field: {0: 4.0, 1: 0.25}[field]) == 0.25 - 2.0


def test_a_pwm_output_takes_the_value_itself() -> None:
    levels = track("kind='pwm'", "on_failsafe={preset=0.2}")[1]

    assert levels.of_value(0.3) == 0.3
    assert levels.of_value(7.0) == 1.0


def test_no_pulses_until_the_first_frame_unless_it_says_so() -> None:
    assert start_level(*track()) is None
    assert start_level(*track("at_start=1400")) == 1_400_000


def test_a_start_pulse_keeps_to_the_limits() -> None:
    assert start_level(*track("at_start=1050", "limit_us=[1100, 1900]")) == 1_100_000


def test_a_pwm_output_starts_with_a_value() -> None:
    assert start_level(*track("kind='pwm'", "on_failsafe='off'", "at_start=0.0")) == 0.0


def test_hold_keeps_what_was_held() -> None:
    assert failsafe_level(*track("on_failsafe='hold'"), held=1_234_000.0) == 1_234_000
    assert failsafe_level(*track("on_failsafe='hold'"), held=None) is None


def test_off_is_no_pulse() -> None:
    assert failsafe_level(*track("on_failsafe='off'"), held=1_234_000.0) is None


def test_a_preset_keeps_to_the_limits() -> None:
    assert failsafe_level(*track(), held=1_234_000.0) == 1_500_000
    low = track("limit_us=[1600, 1900]")

    assert failsafe_level(*low, held=1_700_000.0) == 1_600_000


def test_a_pwm_preset_is_a_value() -> None:
    assert failsafe_level(*track("kind='pwm'", "on_failsafe={preset=0.2}"), held=0.9) == 0.2
