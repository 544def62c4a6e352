"""Figures of one output, on traces written by hand."""

import pytest

from radiosim.measure.of_output import NEVER, over_at_ns
from radiosim.measure.start import tally_start
from radiosim.measure.tally import OutputFaultTally, OutputTally
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


def tally_of_of_fault(
    scenario: Scenario, reads: list[ReadRow], index: int = 0
) -> dict[str, OutputFaultTally]:
    return tally_start(trace_of(scenario, reads)).faults[index]


def fault(
    kind: str = "power_off", at_s: float = 0.5, for_s: float | None = 0.5, unit: str = "drive"
) -> str:
    length = "" if for_s is None else f", for_s={for_s}"
    return f"fault=[{{at_s={at_s}, kind='{kind}', unit='{unit}'{length}}}]"


def steady(*spans: tuple[int, int]) -> list[ReadRow]:
    times = [at for first, last in spans for at in range(first, last, 20)]
    return [read(at, n) for n, at in enumerate(times)]


GAP = steady((10, 500), (1010, 2000))


def test_a_fault_is_detected_when_the_preset_is_in_effect() -> None:
    found = tally_of_of_fault(scenario_with(fault()), GAP)["track"]

    # Last fed at 490: on at 591; the pulse of 605 is in effect at 606.5.
    assert found.action == "preset"
    assert found.reaction_ns == 106.5 * NS_PER_MS
    # Back at 1,010 with −0.5: the pulse of 1,025 carries it.
    assert found.recovered_ns == 26.25 * NS_PER_MS


def test_off_is_detected_when_the_last_pulse_was_over() -> None:
    found = tally_of_of_fault(scenario_with(fault(), "output.track.on_failsafe='off'"), GAP)[
        "track"
    ]

    # The pulse of 585 was over before failsafe came on at 591.
    assert found.action == "off"
    assert found.reaction_ns == 91 * NS_PER_MS


def test_a_controller_that_misses_its_pulses_later_is_detected_later() -> None:
    motor = "output.track.motor={signal_loss_ms=200}"
    found = tally_of_of_fault(scenario_with(fault(), "output.track.on_failsafe='off'", motor), GAP)[
        "track"
    ]
    slow = "output.track.motor={signal_loss_ms=600}"

    assert found.reaction_ns == 291 * NS_PER_MS
    assert (
        tally_of_of_fault(scenario_with(fault(), "output.track.on_failsafe='off'", slow), GAP)[
            "track"
        ].reaction_ns
        == NEVER
    )


def test_an_output_in_effect_when_written_is_detected_at_once() -> None:
    found = tally_of_of_fault(scenario_with(fault(), *PWM), GAP)["track"]

    assert found.reaction_ns == 91 * NS_PER_MS
    assert found.recovered_ns == 10 * NS_PER_MS


def test_hold_is_never_detected() -> None:
    found = tally_of_of_fault(scenario_with(fault(), "output.track.on_failsafe='hold'"), GAP)[
        "track"
    ]

    assert found.action == "hold"
    assert found.reaction_ns == NEVER


def test_a_fault_shorter_than_the_timeout_is_never_detected() -> None:
    found = tally_of_of_fault(
        scenario_with(fault(for_s=0.05), *PWM), steady((10, 500), (560, 2000))
    )["track"]

    assert found.reaction_ns == NEVER
    assert found.recovered_ns == 10 * NS_PER_MS


def test_a_trip_before_the_fault_does_not_count() -> None:
    reads = steady((10, 200), (350, 500), (1010, 2000))

    assert (
        tally_of_of_fault(scenario_with(fault(), *PWM), reads)["track"].reaction_ns
        == 91 * NS_PER_MS
    )


def test_a_trip_after_the_recovery_does_not_count() -> None:
    reads = steady((10, 500), (560, 700), (900, 2000))

    assert (
        tally_of_of_fault(scenario_with(fault(for_s=0.05), *PWM), reads)["track"].reaction_ns
        == NEVER
    )


def test_a_trip_that_was_over_before_the_next_pulse_is_passed_by() -> None:
    # On at 591 (seen at no pulse: a frame comes at 600), on again at 701.
    reads = [*steady((10, 500)), read(600, 25)]
    found = tally_of_of_fault(scenario_with(fault(for_s=None)), reads)["track"]

    assert found.reaction_ns == (706.5 - 500) * NS_PER_MS


def test_a_fault_for_good_is_never_recovered() -> None:
    found = tally_of_of_fault(scenario_with(fault(for_s=None)), steady((10, 500)))["track"]

    assert found.reaction_ns == 106.5 * NS_PER_MS
    assert found.recovered_ns == NEVER


def test_values_taken_before_its_end_are_no_recovery() -> None:
    reads = [*steady((10, 500)), read(1010, 25, sampled_ms=480), read(1030, 26)]

    assert (
        tally_of_of_fault(scenario_with(fault(), *PWM), reads)["track"].recovered_ns
        == 30 * NS_PER_MS
    )


def test_a_transmitter_touches_its_own_outputs_alone() -> None:
    assert set(tally_of_of_fault(scenario_with(fault()), GAP)) == {"track"}
    assert set(tally_of_of_fault(scenario_with(fault(unit="head")), GAP)) == {"pan"}


def test_the_receiver_touches_every_output() -> None:
    assert set(tally_of_of_fault(scenario_with(fault("hang", unit="receiver")), GAP)) == {
        "track",
        "pan",
    }


@pytest.mark.parametrize("kind", ["reset", "radio_reset"])
def test_what_is_over_at_once_is_recovered_from_its_instant(kind: str) -> None:
    found = tally_of_of_fault(
        scenario_with(fault(kind, for_s=None, unit="receiver"), *PWM),
        steady((10, 500), (530, 2000)),
    )

    assert found["track"].recovered_ns == 30 * NS_PER_MS


def test_a_failsafe_value_still_to_come_at_the_end_was_never_in_effect() -> None:
    late = scenario_with(
        fault(at_s=1.9, for_s=None), "output.track.motor={signal_loss_ms=500}", *PWM
    )

    assert tally_of_of_fault(late, steady((10, 1900)))["track"].reaction_ns == NEVER


def test_a_watchdog_ends_a_hang() -> None:
    hang = fault("hang", 0.5, 1.0, unit="receiver")

    bitten = scenario_with(hang, "receiver.watchdog_ms=200")
    assert over_at_ns(bitten, bitten.fault[0]) == 700 * NS_PER_MS
    patient = scenario_with(hang, "receiver.watchdog_ms=5000")
    assert over_at_ns(patient, patient.fault[0]) == 1500 * NS_PER_MS


def test_a_fault_during_failsafe_finds_the_failsafe_value_there_already() -> None:
    found = tally_of_of_fault(scenario_with(fault(at_s=0.9)), GAP)["track"]

    assert found.reaction_ns == 0
