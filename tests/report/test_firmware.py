"""What a report on a receiver's own program says that it does not show."""

import pytest
from msgspec.structs import replace

from radiosim.firmware.results import ProgramDrill, ProgramOutput
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


def test_the_headline_is_the_worst_and_not_the_longest() -> None:
    """A motor that runs on for a second before a camera that is off for a minute."""
    found = program_results(ok=False)
    (long,) = found.spans
    camera = replace(long, output="pan", for_s=60.0, danger=2, runs_on=False)
    motor = replace(long, output="motor", for_s=1.0, danger=0, runs_on=True)
    brief = replace(motor, output="winch", for_s=0.05)

    report = firmware_report(replace(found, spans=(camera, brief, motor)), parse(LINK), ORIGIN)

    assert report.verdict is not None
    assert report.verdict.startswith("NOT HELD: motor:")


def test_held_drills_that_nothing_bounds_are_said_to_be_unsafe() -> None:
    drill = ProgramDrill(
        fault="stale",
        unit="drive",
        faults=4,
        verdict="HELD",
        starts_held=1,
        starts=1,
        frames=100,
        read_elsewhere=None,
        ended=None,
        span=None,
        unstopped={"motor": "old values feed its timer"},
    )
    calm = replace(drill, fault="jam", unit="air", unstopped={})

    found = replace(program_results(), drills=(drill, calm))
    text = " ".join(plain_text(firmware_report(found, parse(LINK), ORIGIN), 80).split())

    assert "not safe: some output need not stop at stale drive." in text
    assert "NO BOUND, held or not: motor at stale drive: old values feed its timer." in text
