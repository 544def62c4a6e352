"""`radiosim firmware`: a receiver's own program on the simulated link."""

from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from radiosim.cli.console import DONE, NOT_HELD
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
from radiosim.edges import DURATION_S, STARTS
from radiosim.errors import FirmwareError, OptionError

if TYPE_CHECKING:
    from radiosim.engine.plan import Plan
    from radiosim.engine.simulate import Engine
    from radiosim.firmware.program_log import Tells
    from radiosim.firmware.results import ProgramResults
    from radiosim.firmware.script import Reply, Script
    from radiosim.firmware.worked_out import Ran
    from radiosim.scenario import Scenario
    from radiosim.study.firmware_drill import TryStart
    from radiosim.trace import Trace

_CLOCK_MS = (0, 2**32 - 1)
_STARTER = "rx.c"


@dataclass(frozen=True, kw_only=True)
class FirmwareOptions(Overridden, Seeded, PageAndFiles, Simulates):
    """Options of `radiosim firmware`."""

    COMMAND = "firmware"

    source: str = argument(
        "SCENARIO", "Scenario file, or name of a shipped scenario.", Mark.SCENARIO
    )
    sources: tuple[str, ...] = argument(
        "SOURCE...",
        "C or C++ files of the receiver's program, or one image (.elf); left out: the scenario's.",
        default=(),
    )
    on: str = option(
        "host|core|chip",
        "What it runs on: host is this machine, core and chip are emulated.",
        default="host",
    )
    pins: str | None = option(
        "NAME=PIN,...", "What is on which pin of the chip: mhz=16,select=B2,enable=B1,motor=D3."
    )
    measure: bool = flag("Measure the firmware's times on the chip, and predict by them.")
    write: Path | None = option(
        "FILE", "Write the scenario with the measured times in it.", Mark.TARGET, Mark.UNSAID
    )
    starts: int | None = option("N", "Starts, instead of the scenario's.", edges=STARTS)
    duration_s: float | None = option("S", "Length of each start.", edges=DURATION_S)
    clock_from: int = option(
        "MS", "What the program's clock shows at its first boot.", default=0, edges=_CLOCK_MS
    )
    traps: bool = flag(
        "End it where it does what C leaves undefined: overflow, a wrong shift or index (on host)."
    )
    drill: bool = flag("Drill every fault too, over its phases, as radiosim failsafe does.")
    repeats: int = option("N", "Faults of each drill, at least.", default=24, edges=(1, 100_000))
    emit: Path | None = option(
        "FOLDER", "Write the headers for the program, with one stamp, and a program to begin with."
    )
    log: Path | None = option(
        "FILE",
        "Write what it did in the first start as the log of a probe, for radiosim fit.",
        Mark.TARGET,
        Mark.UNSAID,
    )
    junit: Path | None = option("FILE", "Write JUnit XML, for a CI.", Mark.TARGET, Mark.UNSAID)

    def check(self) -> None:
        """OptionError for a rung that is none or not there, or if nothing is asked."""
        from radiosim.firmware.rungs import check_pins, rung_of

        rung = rung_of(self.on, self.sources)
        if self.sources:
            check_pins(rung, self.pins)
        if self.traps and rung != "host":
            raise OptionError("--traps: is for host, whose compiler has them")
        if self.measure and rung != "chip":
            raise OptionError("--measure: is for a whole firmware (FILE.elf), which runs on chip")
        if self.write is not None and not self.measure:
            raise OptionError("--write: must stand beside --measure")
        if rung == "chip" and self.clock_from:
            raise OptionError("--clock-from: a chip's clocks begin at 0; it is for host and core")


def firmware(options: FirmwareOptions) -> int:
    """Run a receiver's own program on the simulated link, and tell where it does otherwise.

    Exit code: 0 it did what was predicted, 1 it did not or could not be judged, 2 refused, 130
    stopped."""
    from radiosim.cli.harness import origin_of, ready_engine
    from radiosim.cli.targets import write_report
    from radiosim.report.files import write_whole
    from radiosim.report.firmware import firmware_report
    from radiosim.report.firmware_junit import firmware_junit

    scenario = _loaded(options)
    options = _with_program(options, scenario)
    if options.log is not None and not options.sources:
        raise OptionError("--log: must stand beside the program's files, whose log it is")
    if options.emit is not None:
        _emit(options.emit, scenario)
    if not options.sources:
        return DONE
    origin = origin_of(options, options.source, scenario.seed)
    found = _tried(scenario, options, ready_engine(options.engine, scenario))
    if options.junit is not None:
        write_whole(options.junit, firmware_junit(found))
    write_report(firmware_report(found, scenario, origin), options)
    return DONE if found.ok else NOT_HELD


def _with_program(options: FirmwareOptions, scenario: "Scenario") -> FirmwareOptions:
    """The options with the program that the scenario names, where they name none.

    OptionError if nothing is asked, or as of `FirmwareOptions.check`.
    """
    program = scenario.receiver.program
    if options.sources or options.emit is not None:
        return options
    if program is None:
        raise OptionError(
            "SOURCE: must be the program's files, or --emit FOLDER be given, or the scenario have "
            "receiver.program"
        )
    if options.on not in (FirmwareOptions.on, program.on):
        raise OptionError(f"--on {options.on}: receiver.program.on of the scenario is {program.on}")
    found = replace(
        options, sources=program.sources, on=program.on, pins=options.pins or program.pins
    )
    found.check()
    return found


def _tried(scenario: "Scenario", options: FirmwareOptions, engine: "Engine") -> "ProgramResults":
    from radiosim.firmware.rungs import bench_on, rung_of
    from radiosim.firmware.settings_header import link_header, stamp_of
    from radiosim.firmware.tried import check_served, tried
    from radiosim.firmware.worked_out import Ran

    check_served(scenario)
    if rung_of(options.on, options.sources) == "chip":
        return _tried_on_chip(scenario, options, engine)
    paths = [Path(source) for source in options.sources]
    headers = {"link.h": link_header(scenario)}
    with bench_on(options.on, paths, headers, traps=options.traps) as (bench, built):
        ran = Ran(
            on=options.on,
            sources=tuple(path.name for path in paths),
            stamp=stamp_of(scenario),
            warning=built.warning,
            warnings=built.warnings,
            clock_ms=options.clock_from,
        )
        try_start = partial(tried, bench=bench, clock_ms=options.clock_from, engine=engine)
        logged = partial(try_start, tells=_tells(options, scenario))
        return _of_all_starts(scenario, options, ran, try_start, logged)


def _tried_on_chip(
    scenario: "Scenario", options: FirmwareOptions, engine: "Engine"
) -> "ProgramResults":
    from radiosim.firmware.board import board_of
    from radiosim.firmware.chip import chip_bench
    from radiosim.firmware.chip_measured import measured
    from radiosim.firmware.chip_tried import tried_on_chip
    from radiosim.firmware.tried import check_served_on_chip
    from radiosim.firmware.worked_out import Ran

    check_served_on_chip(scenario)
    board = board_of(options.pins or "", scenario)
    image = Path(options.sources[0])
    with chip_bench(scenario, image, board) as bench:
        asked, times = scenario, measured(scenario, board, bench) if options.measure else None
        if times is not None:
            scenario = _loaded(options, tuple(times.settings))
        ran = Ran(
            on="chip",
            sources=(image.name,),
            stamp="",
            warning="",
            warnings=0,
            clock_ms=0,
            measured=times,
        )
        try_start = partial(tried_on_chip, bench=bench, board=board, engine=engine)
        logged = partial(try_start, tells=_tells(options, asked))
        found = _of_all_starts(scenario, options, ran, try_start, logged)
    if options.write is not None and times is not None:
        _write_measured(options.write, options, times.settings)
    return found


def _of_all_starts(
    scenario: "Scenario",
    options: FirmwareOptions,
    ran: "Ran",
    try_start: "TryStart",
    logged: "TryStart",
) -> "ProgramResults":
    """All starts, the first as it is to be logged, and all drills if they are asked for."""
    from radiosim.cli.progress_bar import progress
    from radiosim.firmware.worked_out import results_of, with_drills
    from radiosim.study.firmware_drill import drill_program

    with progress(scenario.starts, what="starts") as on_start:
        starts = []
        for start in range(scenario.starts):
            starts.append((try_start if start else logged)(scenario, start))
            if on_start is not None:
                on_start(len(starts), scenario.starts)
    found = results_of(scenario, ran, starts)
    if not options.drill:
        return found
    with progress(1, what="drills") as on_drill:
        drills = drill_program(scenario, ran, try_start, repeats=options.repeats, on_drill=on_drill)
    return with_drills(found, drills)


def _tells(options: FirmwareOptions, scenario: "Scenario") -> "Tells | None":
    """What writes the log of a start, with the stamp of `scenario`; None: not asked for."""
    from radiosim.bench_log.probe_records import encoded
    from radiosim.cli.console import tell
    from radiosim.firmware.program_log import program_log
    from radiosim.firmware.rungs import CHIP, rung_of
    from radiosim.firmware.settings_header import stamp_of
    from radiosim.report.files import write_whole

    target = options.log
    if target is None:
        return None

    def tells(plan: "Plan", trace: "Trace", script: "Script", reply: "Reply") -> None:
        rows = program_log(
            scenario,
            plan,
            trace,
            script,
            reply,
            stamp=int(stamp_of(scenario), 16),
            is_chip=rung_of(options.on, options.sources) == CHIP,
        )
        write_whole(target, encoded(rows))
        tell(f"wrote {target}, a log of {len(rows):,} records")

    return tells


def _write_measured(target: Path, options: FirmwareOptions, settings: list[str]) -> None:
    """Write the scenario with what --set said and with what was measured, its comments kept."""
    from radiosim.cli.console import tell
    from radiosim.cli.options import text_of
    from radiosim.report.files import write_whole
    from radiosim.scenario.edited import edited, with_caution

    text = text_of(options.source)
    if not text:
        raise OptionError(f"--write: must be for a scenario in a plain file, got {options.source}")
    write_whole(target, with_caution(edited(text, (*options.set_, *settings))))
    tell(f"wrote {target}, with {len(settings)} measured values")


def _loaded(options: FirmwareOptions, more: tuple[str, ...] = ()) -> "Scenario":
    from radiosim.cli.options import load_scenario

    return load_scenario(
        options.source,
        (*options.set_, *more),
        seed=options.seed,
        starts=options.starts,
        duration_s=options.duration_s,
        runs_program=True,
    )


def _emit(folder: Path, scenario: "Scenario") -> None:
    """Write what a receiver's program includes, and a program to begin with if there is none."""
    from radiosim.cli.console import tell
    from radiosim.firmware.build import C_FOLDER, CONTRACT
    from radiosim.firmware.settings_header import link_header, stamp_of
    from radiosim.firmware.starter import starter
    from radiosim.report.files import write_folder

    texts = {name: (C_FOLDER / name).read_text(encoding="utf-8") for name in CONTRACT}
    texts["link.h"] = link_header(scenario)
    if (folder / _STARTER).exists():
        tell(f"{folder}/{_STARTER}: left as it is")
    else:
        try:
            texts[_STARTER] = starter(scenario)
        except FirmwareError as error:
            tell(str(error))
    write_folder(folder, texts)
    tell(f"wrote {', '.join(sorted(texts))} in {folder}: settings {stamp_of(scenario)}")
