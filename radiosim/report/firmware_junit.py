"""A receiver's program beside the prediction as JUnit XML, for the CI of its project."""

from collections.abc import Iterator

from radiosim.counted import counted
from radiosim.firmware.results import ProgramResults
from radiosim.report.firmware import drill_text, read_text, span_text
from radiosim.results.junit import Case, junit_text


def firmware_junit(found: ProgramResults) -> str:
    """A case for the run as such, one for its reads, and one for each output."""
    return junit_text(f"radiosim firmware {found.scenario}".strip(), tuple(_cases(found)))


def _cases(found: ProgramResults) -> Iterator[Case]:
    suite = f"{', '.join(found.sources)} on {found.on}"
    yield Case(
        suite=suite,
        class_name="firmware.run",
        name="runs to the end",
        failure=None if not found.ended else found.ended[0].text,
        output=f"{counted(found.starts, 'start')}, settings {found.stamp}",
    )
    yield from _drills(found)
    if found.ended:
        return
    read = found.read_elsewhere
    yield Case(
        suite=suite,
        class_name="firmware.reads",
        name="reads at the predicted passes",
        failure=None if read is None else read_text(read),
        output=f"{found.reads_as_predicted} of {found.frames}",
    )
    for name in (*(one.name for one in found.outputs), *_failsafes(found)):
        mine = [span for span in found.spans if span.output == name]
        judged = [span for span in mine if span.is_judged]
        longest = max(judged or mine, key=lambda span: span.for_s, default=None)
        text = None if longest is None else span_text(longest)
        yield Case(
            suite=suite,
            class_name="firmware.output",
            name=name,
            failure=text if longest is not None and longest.is_judged else None,
            skipped=text if longest is not None and not longest.is_judged else None,
        )


def _drills(found: ProgramResults) -> Iterator[Case]:
    for drill in found.drills or ():
        yield Case(
            suite="drills",
            class_name=f"firmware.{drill.fault}",
            name=f"{drill.fault} {drill.unit}",
            failure=drill_text(drill) if drill.verdict == "NOT HELD" else None,
            skipped=drill_text(drill) if drill.verdict == "NOT JUDGED" else None,
            output=counted(drill.faults, "fault"),
        )


def _failsafes(found: ProgramResults) -> Iterator[str]:
    for one in found.failsafe:
        yield f"failsafe of {one.name}"
