"""What faults led to, on traces written by hand."""

import pytest

from radiosim.measure.of_output import NEVER
from radiosim.measure.start import tally_start
from radiosim.measure.tally import FaultTally, OutputFaultTally
from radiosim.scenario import Scenario
from radiosim.trace import ReadRow
from radiosim.units import NS_PER_MS
from tests.traces import read, scenario_with, trace_of

PWM = ("output.track.kind='pwm'", "output.track.on_failsafe='off'")


def whole(scenario: Scenario, reads: list[ReadRow] | None = None, index: int = 0) -> FaultTally:
    return tally_start(trace_of(scenario, reads or [])).faults[index]


def of_fault(
    scenario: Scenario, reads: list[ReadRow], index: int = 0
) -> dict[str, OutputFaultTally]:
    return tally_start(trace_of(scenario, reads)).faults[index].outputs


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
    found = of_fault(scenario_with(fault()), GAP)["track"]

    # Last fed at 490: on at 591; the pulse of 605 is in effect at 606.5.
    assert found.action == "preset"
    assert found.reaction_ns == 106.5 * NS_PER_MS
    # Back at 1,010 with −0.5: the pulse of 1,025 carries it.
    assert found.recovered_ns == 26.25 * NS_PER_MS


def test_off_is_detected_when_the_last_pulse_was_over() -> None:
    found = of_fault(scenario_with(fault(), "output.track.on_failsafe='off'"), GAP)["track"]

    # The pulse of 585 was over before failsafe came on at 591.
    assert found.action == "off"
    assert found.reaction_ns == 91 * NS_PER_MS


def test_a_pulse_under_way_is_over_before_it_is_off() -> None:
    given = scenario_with(fault(), "output.track.on_failsafe='off'")
    found = of_fault(given, steady((5, 500), (1010, 2000)))["track"]

    # Last fed at 485: on at 586, in the middle of the pulse from 585 to 586.5 or so.
    assert 86 * NS_PER_MS < found.reaction_ns < 87.5 * NS_PER_MS


def test_a_controller_that_misses_its_pulses_later_is_detected_later() -> None:
    motor = "output.track.motor={signal_loss_ms=200}"
    found = of_fault(scenario_with(fault(), "output.track.on_failsafe='off'", motor), GAP)["track"]
    slow = "output.track.motor={signal_loss_ms=600}"

    assert found.reaction_ns == 291 * NS_PER_MS
    assert (
        of_fault(scenario_with(fault(), "output.track.on_failsafe='off'", slow), GAP)[
            "track"
        ].reaction_ns
        == NEVER
    )


def test_an_output_in_effect_when_written_is_detected_at_once() -> None:
    found = of_fault(scenario_with(fault(), *PWM), GAP)["track"]

    assert found.reaction_ns == 91 * NS_PER_MS
    assert found.recovered_ns == 10 * NS_PER_MS


def test_hold_is_never_detected() -> None:
    found = of_fault(scenario_with(fault(), "output.track.on_failsafe='hold'"), GAP)["track"]

    assert found.action == "hold"
    assert found.reaction_ns == NEVER


def test_a_fault_shorter_than_the_timeout_is_never_detected() -> None:
    found = of_fault(scenario_with(fault(for_s=0.05), *PWM), steady((10, 500), (560, 2000)))[
        "track"
    ]

    assert found.reaction_ns == NEVER
    assert found.recovered_ns == 10 * NS_PER_MS


def test_a_trip_before_the_fault_does_not_count() -> None:
    reads = steady((10, 200), (350, 500), (1010, 2000))

    assert of_fault(scenario_with(fault(), *PWM), reads)["track"].reaction_ns == 91 * NS_PER_MS


def test_a_trip_after_the_recovery_does_not_count() -> None:
    reads = steady((10, 500), (560, 700), (900, 2000))

    assert of_fault(scenario_with(fault(for_s=0.05), *PWM), reads)["track"].reaction_ns == NEVER


def test_a_trip_that_was_over_before_the_next_pulse_is_passed_by() -> None:
    # On at 591 (seen at no pulse: a frame comes at 600), on again at 701.
    reads = [*steady((10, 500)), read(600, 25)]
    found = of_fault(scenario_with(fault(for_s=None)), reads)["track"]

    assert found.reaction_ns == (706.5 - 500) * NS_PER_MS


def test_a_fault_for_good_is_never_recovered() -> None:
    found = of_fault(scenario_with(fault(for_s=None)), steady((10, 500)))["track"]

    assert found.reaction_ns == 106.5 * NS_PER_MS
    assert found.recovered_ns == NEVER


def test_values_taken_before_its_end_are_no_recovery() -> None:
    reads = [*steady((10, 500)), read(1010, 25, sampled_ms=480), read(1030, 26)]

    assert of_fault(scenario_with(fault(), *PWM), reads)["track"].recovered_ns == 30 * NS_PER_MS


def test_a_transmitter_touches_its_own_outputs_alone() -> None:
    assert set(of_fault(scenario_with(fault()), GAP)) == {"track"}
    assert set(of_fault(scenario_with(fault(unit="head")), GAP)) == {"pan"}


def test_the_receiver_touches_every_output() -> None:
    assert set(of_fault(scenario_with(fault("hang", unit="receiver")), GAP)) == {
        "track",
        "pan",
    }


@pytest.mark.parametrize("kind", ["reset", "radio_reset"])
def test_what_is_over_at_once_is_recovered_from_its_instant(kind: str) -> None:
    found = of_fault(
        scenario_with(fault(kind, for_s=None, unit="receiver"), *PWM),
        steady((10, 500), (530, 2000)),
    )

    assert found["track"].recovered_ns == 30 * NS_PER_MS


def test_a_failsafe_value_still_to_come_at_the_end_was_never_in_effect() -> None:
    late = scenario_with(
        fault(at_s=1.9, for_s=None), "output.track.motor={signal_loss_ms=500}", *PWM
    )

    assert of_fault(late, steady((10, 1900)))["track"].reaction_ns == NEVER


def test_a_watchdog_ends_a_hang() -> None:
    hang = fault("hang", 0.5, 1.0, unit="receiver")

    bitten = whole(scenario_with(hang, "receiver.watchdog_ms=200"))
    assert (bitten.over_ns, bitten.is_bitten) == (200 * NS_PER_MS, True)
    patient = whole(scenario_with(hang, "receiver.watchdog_ms=5000"))
    assert (patient.over_ns, patient.is_bitten) == (1000 * NS_PER_MS, False)


def test_a_fault_during_failsafe_finds_the_failsafe_value_there_already() -> None:
    found = of_fault(scenario_with(fault(at_s=0.9)), GAP)["track"]

    assert found.reaction_ns == 0
