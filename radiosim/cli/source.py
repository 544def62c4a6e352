"""Where a run's figures come from: simulated starts, one start, or a saved trace."""

import shlex
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from radiosim.cli.printing import tell
from radiosim.errors import OptionError, Problem, ScenarioError

if TYPE_CHECKING:
    from radiosim.engine.choice import Engine
    from radiosim.measure.summary import Summary
    from radiosim.scenario import Scenario
    from radiosim.trace import Trace


LONGEST_GLANCE_S = 3600.0
"""Longer starts are looked at only when that is asked for."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """What to simulate, as the user said it; None and () where nothing was said."""

    source: str
    starts: int | None = None
    hours: float | None = None
    start: int | None = None
    seed: int | None = None
    duration_s: float | None = None
    overrides: tuple[str, ...] = ()
    engine: str = "auto"
    workers: int | None = None
    rare: bool = False

    def changes(self) -> tuple[str, ...]:
        """Names of the options that change what is simulated."""
        said = {
            "--starts": self.starts is not None,
            "--hours": self.hours is not None,
            "--start": self.start is not None,
            "--seed": self.seed is not None,
            "--duration-s": self.duration_s is not None,
            "--set": bool(self.overrides),
            "--engine": self.engine != "auto",
            "--rare": self.rare,
        }
        return tuple(name for name, is_said in said.items() if is_said)

    def command(self) -> str:
        """What a user types to get the same figures again."""
        said = {
            "--starts": self.starts,
            "--hours": self.hours,
            "--start": self.start,
            "--seed": self.seed,
            "--duration-s": self.duration_s,
            "--engine": None if self.engine == "auto" else self.engine,
        }
        words = ["radiosim", "run", self.source]
        for name, value in said.items():
            words += [] if value is None else [name, str(value)]
        for override in self.overrides:
            words += ["--set", override]
        return shlex.join([*words, "--rare"] if self.rare else words)

    def scenario_text(self) -> str:
        """The scenario as its file has it; empty for a saved trace and for what is no plain
        file."""
        from radiosim.cli.scenario_argument import is_trace
        from radiosim.scenario.shipped import scenario_path

        path = scenario_path(self.source)
        if not path.is_file() or is_trace(path):
            return ""
        return path.read_text(encoding="utf-8-sig", errors="replace")


@dataclass(frozen=True, slots=True, kw_only=True)
class Shows:
    """Which start to look at as a whole, if any: the worst one unless it is named."""

    is_asked: bool = False
    is_page: bool = False
    """A page draws spreads of all starts besides."""
    is_waveform: bool = False
    """A waveform holds no start of any length."""
    is_glance: bool = False
    """For the terminal, which looks at starts that are soon simulated once more."""
    start: int | None = None

    def check(self, scenario: "Scenario", starts: range) -> None:
        """RadiosimError for a start that is not simulated, or one too long to be shown."""
        from radiosim.report.waveform.file import check_length

        if self.start is not None and not self.is_waveform:
            raise OptionError("--waveform-start: must stand beside --waveform FILE")
        if self.start is not None and self.start not in starts:
            which = f"{starts[0]} to {starts[-1]}" if len(starts) > 1 else f"{starts[0]}"
            raise OptionError(f"--waveform-start: must be start {which}, got {self.start}")
        if self.is_waveform:
            check_length(scenario)

    def of(self, outcome: "Outcome", engine: "Engine") -> "Outcome":
        """The run with the start to look at, which is simulated once more."""
        from radiosim.assess.worst import worst_start
        from radiosim.engine.simulate import simulate

        is_glance = self.is_glance and outcome.scenario.duration_s <= LONGEST_GLANCE_S
        if not (self.is_asked or is_glance) or outcome.shown is not None:
            return outcome
        start = worst_start(outcome.summary) if self.start is None else self.start
        return replace(outcome, shown=simulate(outcome.scenario, start=start, engine=engine))


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """A run: the scenario, its figures and, where it was kept, its trace."""

    scenario: "Scenario"
    summary: "Summary"
    trace: "Trace | None" = None
    shown: "Trace | None" = None
    """The start to look at as a whole, if one was asked for."""


def simulated(choice: Choice, *, keeps_trace: bool = False, shows: Shows = Shows()) -> Outcome:
    """Figures of the starts that were chosen, or of the saved trace.

    Raises RadiosimError for a scenario, a trace or options that cannot be used.
    """
    from radiosim.cli.scenario_argument import is_trace
    from radiosim.scenario.shipped import scenario_path

    path = scenario_path(choice.source)
    if is_trace(path):
        return _of_trace(path, choice, keeps_trace, shows)
    _check_starts(choice)
    scenario = _scenario(path, choice)
    start = choice.start if choice.start is not None else 0
    shows.check(scenario, range(start, start + scenario.starts))
    if keeps_trace and scenario.starts > 1:
        raise OptionError(
            f"--trace: must be for one start, got {scenario.starts} (add --start 0, or the number "
            "of the start that you want to see)"
        )
    engine = ready_engine(choice.engine, scenario)
    if scenario.starts == 1:
        outcome = _one_start(scenario, start, engine, keeps_trace, has_curves=shows.is_page)
    else:
        summary = _many_starts(scenario, engine, choice.workers, has_curves=shows.is_page)
        outcome = _outcome(scenario, summary, engine)
    outcome = _with_rare(outcome, engine, choice.workers) if choice.rare else outcome
    return shows.of(outcome, engine)


def _outcome(
    scenario: "Scenario",
    summary: "Summary",
    engine: "Engine" = "auto",
    trace: "Trace | None" = None,
) -> Outcome:
    """A run with what its figures show to be wrong."""
    from msgspec.structs import replace as with_fields

    from radiosim.findings import find

    summary = with_fields(summary, findings=find(scenario, summary, engine))
    return Outcome(scenario=scenario, summary=summary, trace=trace)


def ready_engine(wish: str, scenario: "Scenario") -> "Engine":
    """The engine that serves, ready to run; says on standard error what a user should know."""
    from radiosim.engine.choice import ENGINES, make_ready
    from radiosim.engine.plan import make_plan
    from radiosim.measure.start import make_folds_ready

    named = [engine for engine in ENGINES if engine == wish]
    if not named:
        raise OptionError(f"--engine: must be one of {', '.join(ENGINES)}, got {wish}")
    chosen = make_ready(
        named[0],
        make_plan(scenario, 0),
        lambda: tell("compiling the engine, this once: up to a minute"),
    )
    make_folds_ready(scenario, chosen.engine)
    if chosen.why_not_fast:
        tell(f"{chosen.why_not_fast}: the reference engine serves (same figures, slower)")
    return chosen.engine


def _of_trace(path: Path, choice: Choice, keeps_trace: bool, shows: Shows) -> Outcome:
    from radiosim import trace_file
    from radiosim.measure import summarise

    refused = (*choice.changes(), *(("--trace",) if keeps_trace else ()))
    if refused:
        raise OptionError(
            f"{', '.join(refused)}: must be left out with a saved trace, which is as it is; "
            f"got {path}"
        )
    trace = trace_file.load(path)
    shows.check(trace.scenario, range(trace.start, trace.start + 1))
    outcome = _outcome(trace.scenario, summarise(trace, has_curves=shows.is_page))
    return replace(outcome, shown=trace if shows.is_asked or shows.is_glance else None)


def scenario_of(choice: Choice) -> "Scenario":
    """The scenario that was chosen, engine made ready; ScenarioError for a saved trace."""
    from radiosim.cli.scenario_argument import is_trace
    from radiosim.scenario.shipped import scenario_path

    path = scenario_path(choice.source)
    if is_trace(path):
        text = "must be a scenario file, got a saved trace"
        raise ScenarioError((Problem(file=choice.source, path="", text=text),))
    _check_starts(choice)
    return _scenario(path, choice)


def _check_starts(choice: Choice) -> None:
    if choice.hours is not None and (choice.starts is not None or choice.start is not None):
        raise OptionError("--hours: must stand without --starts and --start")
    if choice.start is not None and choice.starts not in (None, 1):
        raise OptionError(
            "--start: must stand without --starts, or with --starts 1, "
            f"got --starts {choice.starts}"
        )


def _scenario(path: Path, choice: Choice) -> "Scenario":
    """The scenario with the options on top; problems of an option carry its name."""
    from radiosim.scenario import load
    from radiosim.study.starts import lasting

    starts = 1 if choice.start is not None else choice.starts
    said = {"starts": starts, "seed": choice.seed, "duration_s": choice.duration_s}
    options = {key: value for key, value in said.items() if value is not None}
    _check_once(choice, options)
    overrides = (*choice.overrides, *(f"{key}={value}" for key, value in options.items()))
    try:
        scenario = load(path, overrides)
    except ScenarioError as error:
        raise ScenarioError(tuple(_named(problem, options) for problem in error.problems)) from None
    return scenario if choice.hours is None else lasting(scenario, choice.hours)


def _check_once(choice: Choice, options: dict[str, float]) -> None:
    """OptionError if a key that an option sets is set by --set too: one would hide the other."""
    for override in choice.overrides:
        key = override.partition("=")[0].strip().strip("\"'")
        if key in options:
            is_start = key == "starts" and choice.starts is None
            option = "--start" if is_start else "--" + key.replace("_", "-")
            raise OptionError(f"{option}: must stand without --set {key}, got --set {override}")


def _named(problem: Problem, options: dict[str, float]) -> Problem:
    if problem.file == "--set" and problem.path in options:
        return replace(problem, file="--" + problem.path.replace("_", "-"), path="")
    return problem


def _one_start(
    scenario: "Scenario", start: int, engine: "Engine", keeps_trace: bool, *, has_curves: bool
) -> Outcome:
    from radiosim.engine.simulate import simulate
    from radiosim.measure import summarise

    trace = simulate(scenario, start=start, engine=engine)
    summary = summarise(trace, has_curves=has_curves)
    return _outcome(scenario, summary, engine, trace if keeps_trace else None)


def _many_starts(
    scenario: "Scenario", engine: "Engine", workers: int | None, *, has_curves: bool
) -> "Summary":
    from radiosim.cli.progress import progress
    from radiosim.study.starts import simulate_starts

    with progress(scenario.starts) as on_progress:
        return simulate_starts(
            scenario,
            engine=engine,
            workers=workers,
            on_progress=on_progress,
            has_curves=has_curves,
        )


def _with_rare(outcome: Outcome, engine: "Engine", workers: int | None) -> Outcome:
    from radiosim.cli.progress import progress
    from radiosim.study.rare import with_rare

    with progress(1, what="rare trips") as on_progress:
        summary = with_rare(
            outcome.scenario,
            outcome.summary,
            engine=engine,
            workers=workers,
            on_progress=on_progress,
        )
    return replace(outcome, summary=summary)
