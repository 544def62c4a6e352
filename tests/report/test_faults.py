"""Faults as they are told: built by hand, and as small scenarios that are simulated."""

import msgspec
import pytest

from radiosim.measure.scripted import has_no_effect
from tests.report.printing import TINY, flat, printed, simulated, told, with_faults
from tests.report.samples import at_fault, fault, one_start, several_starts

LAMP = 'output.lamp = { stream = "drive", field = "value", on_failsafe = "hold" }\n'
TWO = (
    TINY
    + """
transmitter.head = { period_ms = 23, payload_bytes = 4, offset_ms = 5, retry_delay_us = 1250 }
failsafe.head = { timeout_ms = 500 }
"""
)


def faulty(*faults: str, text: str = TINY) -> str:
    return text + "fault = [" + ", ".join(f"{{ {one} }}" for one in faults) + "]\n"


def test_a_fault_is_one_line() -> None:
    text = flat(one_start())

    assert (
        "40 s power_off drive for 5 s failsafe in effect after 271 ms; "
        "fresh again 42.1 ms after its end"
    ) in text


def test_a_fault_that_nothing_acknowledgements_is_told_so() -> None:
    silent = msgspec.structs.replace(
        fault(),
        kind="stale",
        reaction_ms=None,
        recovered_ms=None,
        starts_without_reaction=7,
        unrecovered_starts=2,
        outputs={"left_track": at_fault("preset", None, fates={"never came": 7, "was on": 33})},
    )
    text = flat(with_faults(several_starts(), silent))

    assert "FAILSAFE NEVER CAME in 7 of 40 starts on left_track" in text
    assert "failsafe was on already in 33 of 40 starts on left_track" in text
    assert "NEVER FRESH AGAIN in 2 of 40 starts: left_track" in text


def test_a_fault_after_the_end_is_no_alarm() -> None:
    late = msgspec.structs.replace(
        fault(), at_s=600.0, reaction_ms=None, recovered_ms=None, outputs={}
    )

    assert "600 s power_off drive for 5 s never reached" in flat(with_faults(one_start(), late))


def test_a_fault_too_short_for_failsafe_is_no_alarm() -> None:
    reset = msgspec.structs.replace(
        fault(),
        kind="reset",
        for_s=None,
        over_ms=0.0,
        reaction_ms=None,
        outputs={
            "left_track": at_fault("preset", None, recovered_ms=12.0, fates={"not due": 1}),
            "pan": at_fault("hold", None, recovered_ms=10.0, fates={"held": 1}),
        },
    )
    text = flat(with_faults(one_start(), reset))

    assert "nothing stops pan, failsafe was not due on left_track; fresh again after 42.1" in text


@pytest.mark.parametrize(("reaction_ms", "notes"), [(249.0, 1), (251.0, 0)])
def test_failsafe_that_comes_before_its_timeout_is_explained_once(
    reaction_ms: float, notes: int
) -> None:
    early = at_fault("preset", reaction_ms, recovered_ms=42.0)
    one = msgspec.structs.replace(fault(), outputs={"left_track": early})

    text = printed(with_faults(one_start(), one, one))
    assert text.count("Silence counts from the last frame") == notes


def test_a_shared_timer_is_the_first_hazard() -> None:
    text = told(
        faulty("at_s = 1, kind = 'power_off', unit = 'drive', for_s = 2", text=TWO).replace(
            "timeout_ms = 250", "timeout_ms = 250, fed_by = 'any'"
        )
    )

    first = text.index("! fault at 1 s power_off drive for 2 s: FAILSAFE NEVER CAME on motor")
    assert text.index("! ", text.index("The scenario has no requirements.")) == first
    assert "! Failsafe it NEVER CAME at the scenario's fault" in text
    assert "drive's failsafe is blind to its own transmitter silent while another sends" in text


def test_a_frozen_transmitter_that_nobody_notices_is_a_hazard() -> None:
    text = told(faulty("at_s = 1, kind = 'stale', unit = 'drive', for_s = 2"))

    assert "! fault at 1 s stale drive for 2 s: FAILSAFE NEVER CAME on motor; drive's" in text
    assert "drive's failsafe is blind to a stale transmitter that repeats old values" in text


def test_a_hung_receiver_without_a_watchdog_is_a_hazard() -> None:
    text = told(faulty("at_s = 1, kind = 'hang', unit = 'receiver', for_s = 1"))

    assert "1 s: FAILSAFE NEVER CAME on motor; a hung receiver without a watchdog keeps" in text


def test_a_hung_receiver_that_its_watchdog_resets_is_no_hazard() -> None:
    text = told(
        faulty(
            "at_s = 1, kind = 'hang', unit = 'receiver'", text=TINY + "receiver.watchdog_ms=400\n"
        )
    )

    assert "fault at" not in text
    assert "1 s hang receiver, watchdog after 400" in text
    assert "no pulses after the watchdog from" in text


def test_an_output_that_a_fault_leaves_alive_for_good_is_a_hazard() -> None:
    text = told(faulty("at_s = 1, kind = 'power_off', unit = 'drive'", text=TINY + LAMP))

    assert "! fault at 1 s power_off drive: STILL DRIVEN for good: lamp" in text
    assert "nothing stops lamp, failsafe in effect after" in text


def test_an_output_that_holds_over_a_short_fault_is_no_hazard() -> None:
    text = told(faulty("at_s = 1, kind = 'power_off', unit = 'drive', for_s = 1", text=TINY + LAMP))

    assert "fault at" not in text


def test_a_radio_that_nobody_sets_up_again_is_a_hazard() -> None:
    text = told(faulty("at_s = 1, kind = 'radio_reset', unit = 'receiver'"))

    assert "! fault at 1 s radio_reset receiver: NEVER FRESH AGAIN: motor" in text


def test_a_fault_that_outlasts_the_start_is_not_called_never_fresh() -> None:
    text = told(faulty("at_s = 5, kind = 'power_off', unit = 'drive', for_s = 3"))

    assert "not over when the start ends" in text
    assert "NEVER FRESH" not in text


def test_a_fault_that_is_over_just_before_the_end_is_no_alarm() -> None:
    text = told(faulty("at_s = 5, kind = 'power_off', unit = 'drive', for_s = 0.99"))

    assert "not fresh again before the start ends" in text
    assert "NEVER FRESH" not in text


def test_switching_on_what_is_on_has_no_effect() -> None:
    assert "1 s power_on drive no effect: it was on" in told(
        faulty("at_s = 1, kind = 'power_on', unit = 'drive'")
    )


@pytest.mark.parametrize(("starts", "is_none"), [(0, False), (1, False), (39, False), (40, True)])
def test_a_fault_that_one_start_felt_has_an_effect(starts: int, is_none: bool) -> None:
    summary = several_starts()
    felt = msgspec.structs.replace(fault(), starts_without_effect=starts)

    assert summary.starts == 40
    assert has_no_effect(summary, felt) is is_none


def test_switching_on_what_was_off_finds_failsafe_on() -> None:
    text = told(
        faulty(
            "at_s = 1, kind = 'power_off', unit = 'drive'",
            "at_s = 3, kind = 'power_on', unit = 'drive'",
        )
    )

    assert "3 s power_on drive failsafe was on already; fresh again after" in text
    assert "after 0 ms" not in text


def test_a_fault_before_the_first_value_finds_failsafe_on() -> None:
    text = told(
        faulty("at_s = 1, kind = 'hang', unit = 'drive', for_s = 2").replace(
            "boot_s = 0, period", "boot_s = 2, period"
        )
    )

    assert "NEVER CAME" not in text
    assert "1 s hang drive for 2 s failsafe was on already" in text


def test_recovery_that_waits_for_a_stick_says_so() -> None:
    text = told(
        faulty("at_s = 1, kind = 'power_off', unit = 'drive', for_s = 1").replace(
            "timeout_ms = 250", "timeout_ms = 250, resume_needs = { field = 'value', within = 1 }"
        )
    )

    assert "after its end (waits for value near neutral)" in text


def test_a_long_name_of_a_fault_wraps_under_itself() -> None:
    unit = "the_hand_controller_of_the_second_driver"
    long = msgspec.structs.replace(fault(), unit=unit)
    lines = printed(with_faults(one_start(), long)).splitlines()
    first = next(number for number, line in enumerate(lines) if line.startswith("40 s power_off"))

    assert "the_second_driver" in "".join(line.split("  ")[0] for line in lines[first:][:3])
    assert max(map(len, lines)) <= 80


def test_a_pass_that_reads_may_hold_up_without_end_leaves_no_bound() -> None:
    scenario, summary = simulated(
        TINY + "receiver.interrupt = true\nreceiver.spi_overhead_us = 500\n"
    )
    text = flat(summary, scenario)

    assert text.count("NO BOUND on the failsafe reaction time: a read takes as long") == 1
