"""Figures of one output, on traces written by hand."""

import pytest

from radiosim.measure.start import tally_start
from radiosim.measure.tally import OutputTally
from radiosim.registers.figure_register import MICRODEGREES
from radiosim.scenario import Scenario
from radiosim.trace import ReadRow
from radiosim.units import NS_PER_MS
from tests.traces import read, scenario_with, trace_of

PWM = ("output.track.kind='pwm'", "output.track.on_failsafe='off'")


def tally(scenario: Scenario, reads: list[ReadRow], name: str = "track") -> OutputTally:
    return tally_start(trace_of(scenario, reads)).outputs[name]


def test_an_output_that_never_moved_has_nothing_to_measure() -> None:
    found = tally(scenario_with(), [])

    assert (found.fresh, found.longest_hold_ns, found.latency.n, found.age.n) == (0, None, 0, 0)
    assert found.refresh_hz == 50
    assert found.stream == "drive"


def test_latency_is_from_the_sample_to_in_effect() -> None:
    # Pulses start at 5, 25, …; at 0 the throttle asks for 1500 us.
    found = tally(scenario_with(), [read(10, 0, sampled_ms=8), read(50, 1, sampled_ms=44)])
    latency = found.latency.distribution(NS_PER_MS)

    assert (latency.n, latency.max) == (2, 22.5)
    assert latency.mean == pytest.approx((18.5 + 22.5) / 2)


def test_latency_is_from_the_frames_sample_though_its_sensor_was_earlier() -> None:
    found = tally(scenario_with(*PWM), [read(150, 0, sampled_ms=140, values_ms=20)])

    assert found.latency.highest_ns == 10 * NS_PER_MS
    assert found.age.highest_ns == (251 - 20) * NS_PER_MS


def test_an_output_without_pulses_has_no_refresh() -> None:
    assert tally(scenario_with(*PWM), []).refresh_hz is None


def test_age_leaves_out_failsafe_and_the_time_before_the_first_frame() -> None:
    found = tally(scenario_with(*PWM), [read(100, 0, sampled_ms=90), read(150, 1, sampled_ms=140)])
    age = found.age.distribution(NS_PER_MS)

    # 100 to 150 with values of 90; 150 to 251, when failsafe comes on, with values of 140.
    area = (60**2 - 10**2) / 2 + (111**2 - 10**2) / 2
    assert age.mean == pytest.approx(area / 151)
    assert age.max == 111


def test_a_repeated_value_goes_on_ageing_from_pulse_to_pulse() -> None:
    found = tally(scenario_with("failsafe.drive.timeout_ms=5000"), [read(10, 0)])
    age = found.age.distribution(NS_PER_MS)

    # In effect at 26.5, then without a break to the end at 2,000.
    assert age.max == 1_990
    assert age.mean == pytest.approx((1_990 + 16.5) / 2)


def test_holding_in_failsafe_is_not_age() -> None:
    hold = tally(scenario_with("output.track.on_failsafe='hold'"), [read(10, 0)])

    # Failsafe comes on at 111; the pulse at 125 is the first that only holds.
    assert hold.age.highest_ns == 116.5 * NS_PER_MS


def test_the_longest_hold_is_that_of_one_fresh_value() -> None:
    found = tally(scenario_with(*PWM), [read(100, 0), read(130, 1), read(190, 2)])

    # The last value stays until failsafe takes it off at 291.
    assert found.longest_hold_ns == 101 * NS_PER_MS


def test_a_value_is_held_no_longer_than_the_pin_is_driven() -> None:
    fault = "fault=[{at_s=0.15, kind='brownout', unit='receiver'}]"
    found = tally(scenario_with(*PWM, fault), [read(100, 0)])

    assert found.longest_hold_ns == 50 * NS_PER_MS
    assert found.age.highest_ns == 50 * NS_PER_MS


def test_a_servo_that_stands_where_the_hand_points_has_no_error() -> None:
    scenario = scenario_with(
        "output.track.servo={travel_deg=180}",
        "transmitter.drive.signals.throttle={kind='constant', value=0.5}",
    )
    found = tally(scenario, [read(at, n) for n, at in enumerate(range(10, 2000, 20))])

    assert found.servo_error is not None
    assert found.servo_error.highest_ns == 0


def test_a_servo_is_as_far_off_as_the_hand_jumped() -> None:
    # The throttle jumps from 0 to 1 at 100 ms: 45 degrees with pulses of 500 to 2500 us for 180.
    scenario = scenario_with("output.track.servo={travel_deg=180}")
    found = tally(scenario, [read(at, n) for n, at in enumerate(range(10, 110, 20))])

    assert found.servo_error is not None
    assert found.servo_error.highest_ns / MICRODEGREES == pytest.approx(45)


def test_an_output_without_a_servo_has_no_error() -> None:
    assert tally(scenario_with(), [read(10, 0)]).servo_error is None
