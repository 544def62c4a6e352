"""What a report on a receiver's own program says that it does not show."""

import pytest

from radiosim.firmware.results import ProgramOutput, ProgramResults, ProgramSpan
from radiosim.report.firmware import firmware_report
from radiosim.results.terminal import plain_text
from radiosim.scenario import parse
from tests.report.printing import ORIGIN

LINK = """
radio.profile = "gfsk-1M"
transmitter.drive = { period_ms = 20, payload_bytes = 8 }
failsafe.drive = { timeout_ms = 300 }
output.motor = { stream = "drive", field = "value" }
"""
FAULT = "fault = [{ kind = 'power_off', unit = 'drive', at_s = 1 }]\n"
STILL = "motor stays where it is put: how values become pulses is not shown. Give drive signals"
CALM = "The scenario has no fault: how the program takes one is not shown. Add --drill."


LONG = ProgramSpan(
    start=0,
    output="motor",
    at_s=1.0,
    for_s=0.5,
    fault="",
    predicted=1500.0,
    real=2000.0,
    kind="pulse",
    is_judged=True,
)
TIMES = "The prediction has the times of the scenario"


def text_of(fault: str, *, moves: bool = True, on: str = "host", ok: bool = True) -> str:
    motor = ProgramOutput(
        name="motor",
        changes=2,
        moves=moves,
        spans=0,
        longest_s=0.0,
        short_spans=0,
        longest_short_ms=0.0,
    )
    found = ProgramResults(
        scenario="link",
        on=on,
        sources=("rx.c",),
        stamp="00000001",
        verdict="HELD" if ok else "NOT HELD",
        ok=ok,
        starts=1,
        duration_s=2.0,
        clock_from_ms=0,
        frames=1,
        reads_as_predicted=1,
        tolerance_ms=1.0,
        read_elsewhere=None,
        ended=(),
        outputs=(motor,),
        failsafe=(),
        spans=() if ok else (LONG,),
        drills=None,
        notes=(),
    )
    report = firmware_report(found, parse(f"{fault}{LINK}"), ORIGIN)
    return " ".join(plain_text(report, 80).split())


@pytest.mark.parametrize("moves", [True, False])
def test_an_output_that_never_moves_shows_nothing_of_how_its_pulses_are_made(moves: bool) -> None:
    assert (STILL in text_of("", moves=moves)) is not moves


@pytest.mark.parametrize("fault", ["", FAULT])
def test_without_a_fault_nothing_is_shown_of_one(fault: str) -> None:
    assert (CALM in text_of(fault)) is (not fault)


@pytest.mark.parametrize(("on", "ok"), [("chip", False), ("chip", True), ("core", False)])
def test_a_chip_that_differs_from_times_nobody_measured_is_told_of_measuring(
    on: str, ok: bool
) -> None:
    assert (TIMES in text_of(FAULT, on=on, ok=ok)) is (on == "chip" and not ok)
