"""The commands `channels`, `range`, `tune`, `failsafe` and `bench-test`: studies of a link."""

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from radiosim.cli.console import DONE, NOT_HELD
from radiosim.cli.options import (
    Files,
    Mark,
    OfScenario,
    PageAndFiles,
    Seeded,
    Simulates,
    Stoppable,
    option,
)
from radiosim.edges import (
    DRILL_HOURS,
    DURATION_S,
    NUISANCE_PER_HOUR,
    REACTION_MS,
    SPEED_M_S,
    STARTS,
)
from radiosim.errors import OptionError

if TYPE_CHECKING:
    from radiosim.scenario import Scenario
    from radiosim.study.drill.results import Drilled
    from radiosim.study.tune.tune_results import Tuned


@dataclass(frozen=True, kw_only=True)
class ChannelsOptions(OfScenario, Files):
    """Options of `radiosim channels`."""

    COMMAND = "channels"


def channels(options: ChannelsOptions) -> int:
    """List the channels inside the band, those that stay clear of interferers first."""
    from radiosim.cli.harness import origin_of
    from radiosim.cli.options import load_scenario
    from radiosim.cli.targets import write_report
    from radiosim.report.channels import channels_report
    from radiosim.study.channels import channels as found

    scenario = load_scenario(options.source, options.set_)
    origin = origin_of(options, options.source, scenario.seed)
    write_report(channels_report(scenario, found(scenario), origin), options)
    return DONE


@dataclass(frozen=True, kw_only=True)
class RangeOptions(OfScenario, Seeded, PageAndFiles, Simulates):
    """Options of `radiosim range`."""

    COMMAND = "range"

    points: int = option("N", "How many distances at most.", default=12, edges=(2, 100))
    starts: int | None = option(
        "N", "Starts at each distance; left out: the scenario's, at most 6.", edges=STARTS
    )
    duration_s: float | None = option(
        "D", "Seconds of each start; left out: the scenario's, at most 60.", edges=DURATION_S
    )


def reach(options: RangeOptions) -> int:
    """Tell what arrives at which distance, as predicted ranges, and how far requirements hold."""
    from radiosim.cli.harness import origin_of, running
    from radiosim.cli.options import load_scenario
    from radiosim.cli.targets import write_report
    from radiosim.report.range import range_report
    from radiosim.study import range as study

    starts, duration_s = options.starts, options.duration_s
    whole = load_scenario(
        options.source, options.set_, starts=starts, seed=options.seed, duration_s=duration_s
    )
    scenario = study.shortened(whole, starts, duration_s)
    origin = origin_of(options, options.source, scenario.seed)
    with running(options, scenario, options.points, "levels") as how:
        found = study.reach(scenario, options.points, **how)
    write_report(range_report(found, scenario, origin), options)
    return DONE


@dataclass(frozen=True, kw_only=True)
class BenchTestOptions(OfScenario, Seeded, PageAndFiles, Simulates):
    """Options of `radiosim bench-test`."""

    COMMAND = "bench-test"

    starts: int = option(
        "N", "Starts of each predicted range; 39 make 95 %.", default=39, edges=(3, 1_000)
    )
    minutes: float = option(
        "M", "How long frames are counted for.", default=10.0, edges=(0.05, 600)
    )


def bench_test(options: BenchTestOptions) -> int:
    """Write a bench test sheet: what to try, how to measure it, and what should come out."""
    from radiosim.cli.harness import origin_of, running
    from radiosim.cli.targets import write_report
    from radiosim.report.bench_test import bench_test_report
    from radiosim.study.bench import bench_test_sheet

    scenario = _with_program(options)
    origin = origin_of(options, options.source, scenario.seed)
    with running(options, scenario, 2 * options.starts, "tries") as how:
        sheet = bench_test_sheet(scenario, starts=options.starts, minutes=options.minutes, **how)
    write_report(bench_test_report(sheet, origin), options)
    return DONE


@dataclass(frozen=True, kw_only=True)
class TuneOptions(OfScenario, Seeded, Stoppable, PageAndFiles, Simulates):
    """Options of `radiosim tune`."""

    COMMAND = "tune"

    vary: tuple[str, ...] = option(
        "KEY=FIRST:LAST:STEP",
        "Vary this key, or KEY=A,B,C, words too; left out: all periods and retries. Repeatable.",
        default=(),
    )
    prefer: tuple[str, ...] = option(
        "STREAM",
        "This stream comes first: one that nothing is required of may become worse. Repeatable.",
        default=(),
    )
    points: int | None = option(
        "N",
        "Try N combinations, evenly spread; left out: 300, or all of --vary.",
        edges=(2, 100_000),
    )
    starts: int | None = option(
        "N", "Starts of each point; left out: the scenario's, at most 6.", edges=STARTS
    )
    duration_s: float | None = option(
        "D",
        "Seconds of each start; left out: the scenario's, at most 60 where it has no faults.",
        edges=DURATION_S,
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
    from radiosim.cli.harness import origin_of, running
    from radiosim.cli.options import load_scenario
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
            prefer=options.prefer,
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
    from radiosim.firmware.settings_header import settings_header
    from radiosim.report.files import write_whole
    from radiosim.scenario.changed import changed
    from radiosim.study.tune.choice import lines_of
    from radiosim.study.tune.tune_results import NOTHING_JUDGED

    if found.recommended is None:
        raise OptionError(f"--emit: nothing to write: {NOTHING_JUDGED}")
    lines = lines_of(found.settings, found.recommended.values)
    cautions = (*found.cautions, *found.recommended.warnings)
    write_whole(path, settings_header(changed(whole, lines), cautions))


@dataclass(frozen=True, kw_only=True)
class FailsafeOptions(OfScenario, Seeded, PageAndFiles, Stoppable, Simulates):
    """Options of `radiosim failsafe`."""

    COMMAND = "failsafe"

    speed_m_s: float | None = option(
        "V", "Also tell how far a motor carries the vehicle on.", edges=SPEED_M_S
    )
    nuisance_per_hour: float | None = option(
        "N",
        "Nuisance trips that you bear: surely more FAILS. Left out: 1, not judged.",
        edges=NUISANCE_PER_HOUR,
    )
    reaction_ms: float | None = option(
        "MS",
        "Longest reaction that you bear: a longer one FAILS. Left out: the scenario's, or 500.",
        edges=REACTION_MS,
    )
    repeats: int = option("N", "Faults of each drill, at least.", default=192, edges=(1, 100_000))
    hours: float | None = option(
        "H", "Simulated hours on which timeouts are tried.", edges=DRILL_HOURS
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

    Exit code: 0 every drill holds at a failsafe value that the scenario says, every requirement on
    reaction times does, and so do --reaction-ms and --nuisance-per-hour where given; 1 one does not
    or could not be judged, 2 refused, 130 stopped."""
    from radiosim.cli.harness import origin_of
    from radiosim.cli.targets import write_report
    from radiosim.report.drill import drill_report
    from radiosim.report.drill_junit import drill_junit
    from radiosim.report.files import write_whole

    scenario = _with_program(options)
    origin = origin_of(options, options.source, scenario.seed)
    drilled = _drilled(scenario, options)
    if options.junit is not None:
        write_whole(options.junit, drill_junit(drilled))
    write_report(drill_report(drilled, origin, speed_m_s=options.speed_m_s), options)
    return DONE if drilled.ok else NOT_HELD


def _drilled(scenario: "Scenario", options: FailsafeOptions) -> "Drilled":
    from radiosim.cli.harness import running
    from radiosim.study.drill.drill import DrillOptions, drill_failsafe

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
            on_amounts=how["on_amounts"],
        )


def _with_program(options: BenchTestOptions | FailsafeOptions) -> "Scenario":
    """The scenario once its receiver's own program runs, if it names one."""
    from radiosim.cli.options import load_scenario
    from radiosim.measure.by_program import once_built

    scenario = load_scenario(options.source, options.set_, seed=options.seed, runs_program=True)
    return once_built(scenario)
