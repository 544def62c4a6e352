"""What a report on a receiver's own program says that it does not show."""

import pytest
from msgspec.structs import replace

from radiosim.firmware.results import ProgramOutput
from radiosim.report.firmware import firmware_report
from radiosim.results.terminal import plain_text
from radiosim.scenario import parse
from tests.report.printing import ORIGIN
from tests.report.program_samples import FAULT, LINK, program_results

STILL = "motor stays where it is put: how values become pulses is not shown. Give drive signals"
CALM = "The scenario has no fault: how the program takes one is not shown. Add --drill."


TIMES = "The prediction has the times of the scenario"


def text_of(
    fault: str,
    *,
    moves: bool = True,
    on: str = "host",
    ok: bool = True,
    failsafe: tuple[ProgramOutput, ...] = (),
) -> str:
    found = replace(program_results(moves=moves, on=on, ok=ok), failsafe=failsafe)
    report = firmware_report(found, parse(f"{fault}{LINK}"), ORIGIN)
    return " ".join(plain_text(report, 80).split())


@pytest.mark.parametrize("moves", [True, False])
def test_an_output_that_never_moves_shows_nothing_of_how_its_pulses_are_made(moves: bool) -> None:
    assert (STILL in text_of("", moves=moves)) is not moves


@pytest.mark.parametrize("fault", ["", FAULT])
def test_without_a_fault_nothing_is_shown_of_one(fault: str) -> None:
    assert (CALM in text_of(fault)) is (not fault)


@pytest.mark.parametrize("most_changes", [1, 2, 3])
def test_a_failsafe_that_no_silence_brought_is_said_to_be_untried(most_changes: int) -> None:
    motor = program_results().outputs[0]
    told = replace(motor, name="drive", changes=most_changes, most_changes=most_changes)

    # On at the boot, off with the first frame, on again when frames stay away.
    assert ("Failsafe of drive never came" in text_of(FAULT, failsafe=(told,))) is (
        most_changes < 3
    )
    assert "never tells of failsafe" not in text_of(FAULT, failsafe=(told,))


def test_a_program_that_tells_nothing_of_failsafe_is_said_to() -> None:
    assert "The program never tells of failsafe of drive (rx_failsafe)" in text_of(FAULT)


@pytest.mark.parametrize(("on", "ok"), [("chip", False), ("chip", True), ("core", False)])
def test_a_chip_that_differs_from_times_nobody_measured_is_told_of_measuring(
    on: str, ok: bool
) -> None:
    assert (TIMES in text_of(FAULT, on=on, ok=ok)) is (on == "chip" and not ok)
