"""`radiosim failsafe`: drill every fault, and weigh the timeouts."""

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

if TYPE_CHECKING:
    from radiosim.scenario import Scenario
    from radiosim.study.drill import Drilled


@dataclass(frozen=True, kw_only=True)
class FailsafeOptions(OfScenario, Seeded, PageAndFiles, Stoppable, Simulates):
    """Options of `radiosim failsafe`."""

    COMMAND = "failsafe"

    speed_m_s: float | None = option(
        "V", "Also tell how far a motor carries the vehicle on.", Mark.ABOVE_ZERO
    )
    nuisance_per_hour: float | None = option(
        "N",
        "Nuisance trips that you bear: surely more FAILS. Left out: 1, not judged.",
        Mark.ABOVE_ZERO,
    )
    reaction_ms: float | None = option(
        "MS",
        "Longest reaction that you bear: a longer one FAILS. Left out: the scenario's, or 500.",
        Mark.ABOVE_ZERO,
    )
    repeats: int = option("N", "Faults of each drill.", default=192, low=1, high=100_000)
    hours: float | None = option(
        "H", "Simulated hours on which timeouts are tried.", Mark.ABOVE_ZERO
    )
    skip: tuple[str, ...] = option(
        "KIND", "Leave out a kind of fault, as hang; repeatable.", default=()
    )
    junit: Path | None = option("FILE", "Write JUnit XML, for a CI.", Mark.TARGET, Mark.UNSAID)

    def check(self) -> None:
        """OptionError for kinds of faults that are none, or all of them."""
        from radiosim.study.drill.drill_kinds import check_skipped

        check_skipped(self.skip)


def failsafe(options: FailsafeOptions) -> int:
    """Drill every fault that the scenario's parts allow, and weigh the timeouts of its failsafes.

    Exit code: 0 every drill holds, every requirement on reaction times does, and so do
    --reaction-ms and --nuisance-per-hour where given; 1 one does not or could not be judged, 2
    refused, 130 stopped."""
    from radiosim.cli.harness import origin_of
    from radiosim.cli.scenario_source import load_scenario
    from radiosim.cli.targets import write_report
    from radiosim.report.drill import drill_report
    from radiosim.report.drill_junit import drill_junit
    from radiosim.report.files import write_whole

    scenario = load_scenario(options.source, options.set_, seed=options.seed)
    origin = origin_of(options, options.source, scenario.seed)
    drilled = _drilled(scenario, options)
    if options.junit is not None:
        write_whole(options.junit, drill_junit(drilled))
    write_report(drill_report(drilled, origin, speed_m_s=options.speed_m_s), options)
    return DONE if drilled.ok else NOT_HELD


def _drilled(scenario: "Scenario", options: FailsafeOptions) -> "Drilled":
    from radiosim.cli.running import running
    from radiosim.study.drill import DrillOptions, drill_failsafe

    with running(options, scenario, 1, "drills") as how:
        drill_options = DrillOptions(
            repeats=options.repeats,
            skip=tuple(dict.fromkeys(options.skip)),
            nuisance_per_hour=options.nuisance_per_hour,
            reaction_ms=options.reaction_ms,
            hours=options.hours,
            engine=how["engine"],
            workers=how["workers"],
        )
        return drill_failsafe(
            scenario,
            drill_options,
            journal=options.resume,
            executor=how["executor"],
            on_progress=how["on_progress"],
        )
