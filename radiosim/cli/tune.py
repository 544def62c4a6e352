"""`radiosim tune`: choose packet rates and retries before writing firmware."""

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from radiosim.cli.ending import DONE, NOT_HELD
from radiosim.cli.options import (
    Mark,
    OfScenario,
    PageAndFiles,
    Seeded,
    Simulates,
    Stoppable,
    option,
)
from radiosim.errors import OptionError

if TYPE_CHECKING:
    from radiosim.scenario import Scenario
    from radiosim.study.tune.tune_results import Tuned


@dataclass(frozen=True, kw_only=True)
class TuneOptions(OfScenario, Seeded, Stoppable, PageAndFiles, Simulates):
    """Options of `radiosim tune`."""

    COMMAND = "tune"

    vary: tuple[str, ...] = option(
        "KEY=FIRST:LAST:STEP",
        "Vary this key, or KEY=A,B,C; left out: all periods and retries. Repeatable.",
        default=(),
    )
    points: int | None = option(
        "N",
        "Try N combinations, evenly spread; left out: 300, or all of --vary.",
        low=2,
        high=100_000,
    )
    starts: int | None = option(
        "N", "Starts of each point; left out: the scenario's, at most 6.", low=1
    )
    duration_s: float | None = option(
        "D", "Seconds of each start; left out: the scenario's, at most 60 where it has no faults."
    )
    narrow: str | None = option(
        "FIGURE=WIDTH", "Add starts to each point until FIGURE is known to WIDTH either way."
    )
    emit: Path | None = option(
        "FILE", "Write the recommended settings as a C header.", Mark.TARGET, Mark.UNSAID
    )


def tune(options: TuneOptions) -> int:
    """Try settings, recommend some, and say why; then try those over the whole scenario.

    Exit code: 1 if no point holds every requirement, there too.
    """
    from radiosim.cli.harness import origin_of
    from radiosim.cli.running import running
    from radiosim.cli.scenario_source import load_scenario
    from radiosim.cli.targets import write_report
    from radiosim.report.tune import tune_report
    from radiosim.study.tune.tuned import tune_scenario

    part = load_scenario(
        options.source,
        options.set_,
        starts=options.starts,
        seed=options.seed,
        duration_s=options.duration_s,
    )
    # What is recommended is tried over all of it, however short the points were asked for.
    whole = load_scenario(options.source, options.set_, seed=options.seed)
    origin = origin_of(options, options.source, whole.seed)
    with running(options, whole, 1, "points") as how:
        found = tune_scenario(
            part,
            whole,
            vary=options.vary,
            points=options.points,
            starts=options.starts,
            duration_s=options.duration_s,
            narrow=options.narrow,
            journal=options.resume,
            **how,
        )
    if options.emit is not None:
        _emit(options.emit, found, whole)
    write_report(tune_report(found, origin), options)
    return DONE if found.ok else NOT_HELD


def _emit(path: Path, found: "Tuned", whole: "Scenario") -> None:
    """Write the recommended settings as a C header; OptionError if there are none."""
    from radiosim.report.files import write_whole
    from radiosim.report.settings_header import settings_header
    from radiosim.scenario.changed import changed
    from radiosim.study.tune.tune_results import NOTHING_JUDGED
    from radiosim.study.tune.tuned import lines_of

    if found.recommended is None:
        raise OptionError(f"--emit: nothing to write: {NOTHING_JUDGED}")
    lines = lines_of(found.settings, found.recommended.values)
    write_whole(path, settings_header(changed(whole, lines), found.cautions))
