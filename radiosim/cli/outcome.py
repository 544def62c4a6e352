"""Where a run's figures come from: simulated starts, one start, or a saved trace."""

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from radiosim.errors import OptionError

if TYPE_CHECKING:
    from radiosim.cli.run import RunOptions
    from radiosim.engine.choice import Engine
    from radiosim.measure.summary import Summary
    from radiosim.scenario import Scenario
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
    from radiosim.cli.running import ready_engine
    from radiosim.cli.scenario_source import is_trace, load_scenario
    from radiosim.scenario.shipped import scenario_path

    path = scenario_path(options.source)
    if is_trace(path):
        return _of_trace(path, options, has_glance)
    scenario = load_scenario(
        options.source,
        options.set_,
        starts=options.starts,
        start=options.start,
        seed=options.seed,
        duration_s=options.duration_s,
        hours=options.hours,
    )
    first = options.start or 0
    _check_shown(options, scenario, range(first, first + scenario.starts))
    if options.trace is not None and scenario.starts > 1:
        raise OptionError(
            f"--trace: must be for one start, got {scenario.starts} (add --start 0, or the number "
            "of the start that you want to see)"
        )
    engine = ready_engine(options.engine, scenario)
    if scenario.starts == 1:
        outcome = _one_start(scenario, first, engine, options)
    else:
        outcome = _outcome(scenario, _many_starts(scenario, engine, options), engine)
    if options.rare:
        outcome = _with_rare(outcome, engine, options)
    is_shown = _asks_for_a_start(options) or (
        has_glance and scenario.duration_s <= LONGEST_GLANCE_S
    )
    return _with_shown(outcome, engine, options) if is_shown else outcome


def _asks_for_a_start(options: "RunOptions") -> bool:
    return options.waveform is not None or options.page is not None


def _check_shown(options: "RunOptions", scenario: "Scenario", starts: range) -> None:
    """RadiosimError for a start that is not simulated, or one too long to be shown."""
    from radiosim.report.waveform.file import check_length

    if options.waveform_start is not None and options.waveform_start not in starts:
        which = f"{starts[0]} to {starts[-1]}" if len(starts) > 1 else f"{starts[0]}"
        raise OptionError(f"--waveform-start: must be start {which}, got {options.waveform_start}")
    if options.waveform is not None:
        check_length(scenario)


def _outcome(
    scenario: "Scenario",
    summary: "Summary",
    engine: "Engine",
    trace: "Trace | None" = None,
) -> Outcome:
    """A run with what its figures show to be wrong."""
    from msgspec.structs import replace as with_fields

    from radiosim.findings import find

    summary = with_fields(summary, findings=find(scenario, summary, engine))
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
    trace = trace_file.load(path)
    _check_shown(options, trace.scenario, range(trace.start, trace.start + 1))
    summary = summarise(trace, has_curves=options.page is not None)
    # What may be wrong is tried again on the engine that served, where one was chosen.
    engine: Engine = "reference" if trace.engine == "reference" else "auto"
    outcome = _outcome(trace.scenario, summary, engine)
    return replace(outcome, shown=trace if _asks_for_a_start(options) or has_glance else None)


def _one_start(
    scenario: "Scenario", start: int, engine: "Engine", options: "RunOptions"
) -> Outcome:
    from radiosim.engine.simulate import simulate
    from radiosim.measure import summarise

    trace = simulate(scenario, start=start, engine=engine)
    summary = summarise(trace, has_curves=options.page is not None)
    return _outcome(scenario, summary, engine, None if options.trace is None else trace)


def _many_starts(scenario: "Scenario", engine: "Engine", options: "RunOptions") -> "Summary":
    from radiosim.cli.running import progress
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
    from radiosim.cli.running import progress
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
    from radiosim.assess.worst import worst_start
    from radiosim.engine.simulate import simulate

    named = options.waveform_start
    start = worst_start(outcome.summary) if named is None else named
    return replace(outcome, shown=simulate(outcome.scenario, start=start, engine=engine))
