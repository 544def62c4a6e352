"""`radiosim run`: simulate a scenario and tell what came of it."""

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from radiosim.cli.ending import DONE, NOT_HELD
from radiosim.cli.options import (
    Mark,
    Overridden,
    PageAndFiles,
    Seeded,
    Simulates,
    argument,
    flag,
    option,
)
from radiosim.errors import OptionError

if TYPE_CHECKING:
    from radiosim.cli.outcome import Outcome


@dataclass(frozen=True, kw_only=True)
class RunOptions(Seeded, Overridden, PageAndFiles, Simulates):
    """Options of `radiosim run`."""

    COMMAND = "run"

    source: str = argument(
        "SCENARIO", "Scenario file, name of a shipped scenario, or a saved trace.", Mark.SCENARIO
    )
    starts: int | None = option("N", "Simulate N starts; 1: one start.")
    hours: float | None = option(
        "H", "Simulate as many starts as make H hours in all.", Mark.ABOVE_ZERO
    )
    start: int | None = option("K", "Simulate start K alone.", low=0)
    duration_s: float | None = option("D", "Seconds that each start lasts.")
    rare: bool = flag("Estimate failsafe trips that are too rare to be counted.")
    trace: Path | None = option(
        "FILE", "Save the whole trace of one start.", Mark.TARGET, Mark.UNSAID
    )
    waveform: Path | None = option(
        "FILE", "Write the worst start as a value change dump (VCD).", Mark.TARGET, Mark.UNSAID
    )
    waveform_start: int | None = option(
        "K", "Write start K instead of the worst.", Mark.UNSAID, low=0
    )
    more: bool = flag("Print all figures.", Mark.UNSAID)

    def check(self) -> None:
        """OptionError for ways to say how many starts that exclude each other."""
        if self.hours is not None and (self.starts is not None or self.start is not None):
            raise OptionError("--hours: must stand without --starts and --start")
        if self.start is not None and self.starts not in (None, 1):
            raise OptionError(
                f"--start: must stand without --starts, or with --starts 1, got --starts "
                f"{self.starts}"
            )
        if self.waveform_start is not None and self.waveform is None:
            raise OptionError("--waveform-start: must stand beside --waveform FILE")


def run(options: RunOptions) -> int:
    """Simulate a scenario; print the worst first.

    Exit code: 0 every requirement held, 1 one did not or could not be judged, 2 refused, 130
    stopped.
    """
    from radiosim.cli.harness import origin_of
    from radiosim.cli.outcome import outcome_of
    from radiosim.cli.targets import STANDARD_OUTPUT, write_report
    from radiosim.cli.terminal import has_letters, tell
    from radiosim.report.run import run_report

    origin = origin_of(options, options.source, None)
    has_glance = options.json != STANDARD_OUTPUT and has_letters()
    outcome = outcome_of(options, has_glance=has_glance)
    summary = outcome.summary
    _write_start(outcome, options)
    report = run_report(
        summary,
        outcome.scenario,
        replace(origin, seed=summary.seed, version=summary.version),
        shown=outcome.shown,
        has_glance=has_glance,
    )
    write_report(report, options, is_more=options.more)
    if options.page is not None and outcome.shown is not None:
        tell(f"wrote {options.page}, with start {outcome.shown.start}")
    return DONE if summary.ok else NOT_HELD


def _write_start(outcome: "Outcome", options: RunOptions) -> None:
    """Write one start as a whole, where that was asked for."""
    from radiosim.cli.terminal import tell
    from radiosim.report.files import write_whole

    if options.trace is not None and outcome.trace is not None:
        from radiosim import trace_file

        trace_file.save(outcome.trace, options.trace)
    if options.waveform is not None and outcome.shown is not None:
        from radiosim.report.waveform.file import waveform

        write_whole(options.waveform, waveform(outcome.shown))
        tell(f"wrote {options.waveform}: start {outcome.shown.start}")
