"""`radiosim run`: simulated starts, one start, or a saved trace, and what came of it."""

from collections.abc import Sequence
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
from radiosim.edges import DURATION_S, RUN_HOURS, STARTS
from radiosim.errors import OptionError, TraceError

if TYPE_CHECKING:
    from radiosim.engine.simulate import Engine
    from radiosim.findings.case import Reread
    from radiosim.measure.summary import Summary
    from radiosim.scenario import Scenario
    from radiosim.study.amount import Amount
    from radiosim.trace import Trace


LONGEST_GLANCE_S = 3600.0
"""Longer starts are looked at only when that is asked for."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """A run: the scenario, its figures and, where it was kept, its trace."""

    scenario: "Scenario"
    summary: "Summary"
    trace: "Trace | None" = None
    shown: "Trace | None" = None
    """The start to look at as a whole, if one was asked for: the worst unless it is named."""


def outcome_of(options: "RunOptions", *, has_glance: bool = False) -> Outcome:
    """Figures of the starts that were chosen, or of the saved trace.

    `has_glance`: the terminal shows the worst start, unless that takes long. Raises RadiosimError
    for a scenario, a trace or options that cannot be used.
    """
    from radiosim.cli.harness import ready_engine
    from radiosim.cli.options import is_trace
    from radiosim.measure.by_program import once_built
    from radiosim.scenario.shipped import scenario_path
    from radiosim.study.worker_pool import shared_pool

    path = scenario_path(options.source)
    if is_trace(path):
        return _of_trace(path, options, has_glance)
    scenario = once_built(_read(options))
    first = options.start or 0
    _check_shown(options, scenario, range(first, first + scenario.starts))
    if options.trace is not None and scenario.starts > 1:
        raise OptionError(
            f"--trace: must be for one start, got {scenario.starts} (add --start 0, or the number "
            "of the start that you want to see)"
        )
    engine = ready_engine(options.engine, scenario)
    _foretell(scenario, engine, options)
    with shared_pool():
        if scenario.starts == 1:
            outcome = _one_start(scenario, first, engine, options)
        else:
            summary = _many_starts(scenario, engine, options)
            outcome = _outcome(scenario, summary, engine, options, reread=partial(_read, options))
        if options.rare:
            outcome = _with_rare(outcome, engine, options)
    is_shown = _asks_for_a_start(options) or (
        has_glance and scenario.duration_s <= LONGEST_GLANCE_S
    )
    return _with_shown(outcome, engine, options) if is_shown else outcome


def _foretell(scenario: "Scenario", engine: "Engine", options: "RunOptions") -> None:
    """Tell how long the starts will take, if that is longer than a minute."""
    from radiosim.cli.foretold import foretell
    from radiosim.study.amount import amount_of_starts
    from radiosim.study.most_workers import workers_for

    simulated_s = scenario.starts * scenario.duration_s
    amount = amount_of_starts(scenario, simulated_s, engine)
    foretell((amount,), engine, workers_for(options.workers, scenario.starts))


def _asks_for_a_start(options: "RunOptions") -> bool:
    return options.waveform is not None or options.page is not None


def _check_shown(options: "RunOptions", scenario: "Scenario", starts: range) -> None:
    """RadiosimError for a start that is not simulated, or one too long to be shown."""
    from radiosim.report.waveform import check_length

    if options.waveform_start is not None and options.waveform_start not in starts:
        which = f"{starts[0]} to {starts[-1]}" if len(starts) > 1 else f"{starts[0]}"
        raise OptionError(f"--waveform-start: must be start {which}, got {options.waveform_start}")
    if options.waveform is not None:
        check_length(scenario)


def _read(options: "RunOptions", lines: tuple[str, ...] = ()) -> "Scenario":
    """The scenario as the options say, and with some lines more."""
    from radiosim.cli.options import load_scenario

    return load_scenario(
        options.source,
        (*options.set_, *lines),
        starts=options.starts,
        start=options.start,
        seed=options.seed,
        duration_s=options.duration_s,
        hours=options.hours,
        runs_program=True,
    )


def _outcome(
    scenario: "Scenario",
    summary: "Summary",
    engine: "Engine",
    options: "RunOptions",
    *,
    reread: "Reread | None",
    trace: "Trace | None" = None,
) -> Outcome:
    """A run with what its figures show to be wrong, and what cures it."""
    from radiosim.cli.foretold import foretell
    from radiosim.findings import diagnosed

    def on_amounts(amounts: "Sequence[Amount]") -> None:
        foretell(amounts, engine, 1, what="trying again what may be wrong")

    summary = diagnosed(
        scenario, summary, engine, reread=reread, workers=options.workers, on_amounts=on_amounts
    )
    return Outcome(scenario=scenario, summary=summary, trace=trace)


def _of_trace(path: Path, options: "RunOptions", has_glance: bool) -> Outcome:
    from radiosim import trace_file
    from radiosim.cli.harness import said_options
    from radiosim.measure import summarise

    said = [option for option in said_options(options) if option != "--page"]
    refused = (*said, *(("--trace",) if options.trace is not None else ()))
    if refused:
        raise OptionError(
            f"{', '.join(refused)}: must be left out with a saved trace, which is as it is; "
            f"got {path}"
        )
    trace = _of_model(trace_file.load(path))
    _check_shown(options, trace.scenario, range(trace.start, trace.start + 1))
    summary = summarise(trace, has_curves=options.page is not None)
    # What may be wrong is tried again on the engine that served, where one was chosen.
    engine: Engine = "reference" if trace.engine == "reference" else "auto"
    outcome = _outcome(trace.scenario, summary, engine, options, reread=None)
    return replace(outcome, shown=trace if _asks_for_a_start(options) or has_glance else None)


def _of_model(trace: "Trace") -> "Trace":
    """The trace with the model's program: that which its scenario names may have changed since."""
    from radiosim.measure.by_program import of_model

    return replace(trace, scenario=of_model(trace.scenario))


def _one_start(
    scenario: "Scenario", start: int, engine: "Engine", options: "RunOptions"
) -> Outcome:
    from radiosim.engine.simulate import MOST_KEPT_BYTES
    from radiosim.measure import summarise
    from radiosim.study.starts import simulate_starts
    from radiosim.vehicle.feedback import simulate

    has_curves, trace = options.page is not None, None
    if options.trace is None:
        # Rows go by and are gone: a start may last for days.
        summary = simulate_starts(
            scenario, first=start, count=1, engine=engine, workers=1, has_curves=has_curves
        )
    else:
        trace = simulate(scenario, start=start, engine=engine, most_bytes=MOST_KEPT_BYTES)
        summary = summarise(trace, has_curves=has_curves)
    return _outcome(
        scenario,
        summary,
        engine,
        options,
        reread=partial(_read, options),
        trace=trace,
    )


def _many_starts(scenario: "Scenario", engine: "Engine", options: "RunOptions") -> "Summary":
    from radiosim.cli.progress_bar import progress
    from radiosim.study.starts import simulate_starts

    with progress(scenario.starts) as on_progress:
        return simulate_starts(
            scenario,
            engine=engine,
            workers=options.workers,
            on_progress=on_progress,
            has_curves=options.page is not None,
        )


def _with_rare(outcome: Outcome, engine: "Engine", options: "RunOptions") -> Outcome:
    from radiosim.cli.progress_bar import progress
    from radiosim.study.rare import with_rare

    with progress(1, what="rare trips") as on_progress:
        summary = with_rare(
            outcome.scenario,
            outcome.summary,
            engine=engine,
            workers=options.workers,
            on_progress=on_progress,
        )
    return replace(outcome, summary=summary)


def _with_shown(outcome: Outcome, engine: "Engine", options: "RunOptions") -> Outcome:
    """The run with the start to look at, which is simulated once more."""
    from radiosim.assess.in_words import worst_start
    from radiosim.cli.console import tell
    from radiosim.engine.simulate import MOST_KEPT_BYTES
    from radiosim.vehicle.feedback import simulate

    named = options.waveform_start
    start = worst_start(outcome.summary) if named is None else named
    try:
        shown = simulate(outcome.scenario, start=start, engine=engine, most_bytes=MOST_KEPT_BYTES)
    except TraceError as error:
        tell(f"no start is drawn: {error}")
        return outcome
    return replace(outcome, shown=shown)


@dataclass(frozen=True, kw_only=True)
class RunOptions(Seeded, Overridden, PageAndFiles, Simulates):
    """Options of `radiosim run`."""

    COMMAND = "run"

    source: str = argument(
        "SCENARIO", "Scenario file, name of a shipped scenario, or a saved trace.", Mark.SCENARIO
    )
    starts: int | None = option("N", "Simulate N starts; 1: one start.", edges=STARTS)
    hours: float | None = option(
        "H", "Simulate as many starts as make H hours in all.", edges=RUN_HOURS
    )
    start: int | None = option("K", "Simulate start K alone.", edges=(0, 2**62))
    duration_s: float | None = option("D", "Seconds that each start lasts.", edges=DURATION_S)
    rare: bool = flag("Estimate failsafe trips that are too rare to be counted.")
    trace: Path | None = option(
        "FILE", "Save the whole trace of one start.", Mark.TARGET, Mark.UNSAID
    )
    waveform: Path | None = option(
        "FILE", "Write the worst start as a value change dump (VCD).", Mark.TARGET, Mark.UNSAID
    )
    waveform_start: int | None = option(
        "K", "Write start K instead of the worst.", Mark.UNSAID, edges=(0, 2**62)
    )
    write: Path | None = option(
        "FILE", "Write the scenario with the joint cure in it.", Mark.TARGET, Mark.UNSAID
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
    from msgspec.structs import replace as replaced

    from radiosim.cli.console import has_letters, tell
    from radiosim.cli.harness import origin_of
    from radiosim.cli.targets import STANDARD_OUTPUT, write_report
    from radiosim.report.run import run_report

    origin = origin_of(options, options.source, None)
    has_glance = options.json != STANDARD_OUTPUT and has_letters()
    text = "" if options.write is None else _text_to_cure(options, options.write)
    outcome = outcome_of(options, has_glance=has_glance)
    summary = outcome.summary
    _write_start(outcome, options)
    if options.write is not None:
        _write_cured(options.write, text, summary, options)
    report = run_report(
        summary,
        outcome.scenario,
        replaced(origin, seed=summary.seed, version=summary.version),
        shown=outcome.shown,
        has_glance=has_glance,
    )
    write_report(report, options, is_more=options.more)
    if options.page is not None and outcome.shown is not None:
        tell(f"wrote {options.page}, with start {outcome.shown.start}")
    return DONE if summary.ok else NOT_HELD


def _text_to_cure(options: RunOptions, target: Path) -> str:
    """The scenario as its file has it; OptionError if another file cannot say the same."""
    from radiosim.cli.options import text_of
    from radiosim.scenario.named_layout import files_of_scenario
    from radiosim.scenario.shipped import scenario_path

    path, text = scenario_path(options.source), text_of(options.source)
    if not text:
        raise OptionError(f"--write: must be for a scenario in a plain file, got {options.source}")
    _, *others = files_of_scenario(path, options.set_)
    if others and target.resolve().parent != path.resolve().parent:
        raise OptionError(
            f"--write: must be in the scenario's own folder, since it reads {others[0].name} "
            f"beside it; got {target}"
        )
    return text


def _write_cured(target: Path, text: str, summary: "Summary", options: RunOptions) -> None:
    """Write the scenario with what --set said and with the joint cure, its comments kept."""
    from radiosim.cli.console import tell
    from radiosim.report.files import write_whole
    from radiosim.scenario.edited import edited, with_caution

    if summary.cure is None or not summary.cure.set:
        tell(f"--write: no cure was found, so that {target} was not written")
        return
    cured = edited(text, (*options.set_, *summary.cure.set))
    write_whole(target, with_caution(cured, summary.cure.caution))
    tell(f"wrote {target}, with {len(summary.cure.set)} lines of the cure")


def _write_start(outcome: "Outcome", options: RunOptions) -> None:
    """Write one start as a whole, where that was asked for."""
    from radiosim.cli.console import tell
    from radiosim.report.files import write_whole

    if options.trace is not None and outcome.trace is not None:
        from radiosim import trace_file

        trace_file.save(outcome.trace, options.trace)
    if options.waveform is not None and outcome.shown is not None:
        from radiosim.report.waveform import waveform

        write_whole(options.waveform, waveform(outcome.shown))
        tell(f"wrote {options.waveform}: start {outcome.shown.start}")
