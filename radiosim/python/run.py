"""`radiosim.run`: starts of a scenario simulated and judged, as `radiosim run` does it."""

from collections.abc import Mapping
from functools import cached_property
from typing import Any

from radiosim.assess.in_words import worst_start
from radiosim.engine.simulate import MOST_KEPT_BYTES, Engine
from radiosim.errors import OptionError, TraceError
from radiosim.findings import diagnosed
from radiosim.findings.case import Reread
from radiosim.measure import summarise
from radiosim.measure.summary import (
    Cure,
    Figures,
    Finding,
    RequirementFigures,
    RunResults,
    Summary,
    Worst,
)
from radiosim.python.asked import Keys, ScenarioLike, in_python_words, origin_of, scenario_of
from radiosim.python.result import StudyResult
from radiosim.report.run import run_report
from radiosim.results.document import Origin, Report
from radiosim.scenario import Scenario
from radiosim.study.rare import with_rare
from radiosim.study.run_points import OnProgress
from radiosim.study.starts import lasting, simulate_starts
from radiosim.study.worker_pool import shared_pool
from radiosim.trace import Trace
from radiosim.vehicle.feedback import simulate


class Result(StudyResult[RunResults]):
    """The results of a run: figures, what was judged and found, and every way to show it."""

    def __init__(
        self,
        summary: Summary,
        scenario: Scenario,
        origin: Origin,
        *,
        engine: Engine = "auto",
        trace: Trace | None = None,
    ) -> None:
        ok = summary.ok if summary.requirements else None
        super().__init__(summary.results(), run_report(summary, scenario, origin), ok=ok)
        self._summary, self._scenario, self._origin = summary, scenario, origin
        self._engine, self._trace = engine, trace

    @property
    def scenario(self) -> Scenario:
        """The scenario that was simulated, options included."""
        return self._scenario

    @property
    def summary(self) -> Summary:
        """All that was measured."""
        return self._summary

    @property
    def figures(self) -> Figures:
        """The figures of all starts together, as `figures.stream["drive"].gap_ms.max`."""
        return self._summary.figures

    @property
    def worst(self) -> dict[str, Worst]:
        """Value and start of the worst start, by figure path; empty for one start."""
        return self._summary.worst

    @property
    def findings(self) -> tuple[Finding, ...] | None:
        """What is wrong, proved by reruns; None: nobody looked for any."""
        return self._summary.findings

    @property
    def cure(self) -> Cure | None:
        """The cure of all findings together; None: there are no findings."""
        return self._summary.cure

    @property
    def requirements(self) -> tuple[RequirementFigures, ...]:
        """The requirements of the scenario, judged in the worst start, rates over all starts."""
        return self._summary.requirements

    @cached_property
    def worst_trace(self) -> Trace:
        """The start with the longest gap, simulated once more: what the pictures show.

        TraceError for one with more rows than are kept, with how long one may be.
        """
        if self._trace is not None:
            return self._trace
        start = worst_start(self._summary)
        return simulate(
            self._scenario, start=start, engine=self._engine, most_bytes=MOST_KEPT_BYTES
        )

    def _with_figures(self) -> Report:
        try:
            shown = self.worst_trace
        except TraceError:
            # Too long to be drawn as a whole.
            shown = None
        return run_report(self._summary, self._scenario, self._origin, shown=shown)


@shared_pool()
def run(
    scenario: ScenarioLike | Trace,
    *,
    starts: int | None = None,
    hours: float | None = None,
    start: int | None = None,
    duration_s: float | None = None,
    seed: int | None = None,
    set: Keys = (),
    engine: Engine = "auto",
    workers: int | None = None,
    findings: bool = True,
    rare: bool = False,
    on_progress: OnProgress | None = None,
) -> Result:
    """Simulates starts of a scenario, and judges them as `radiosim run` does.

    `scenario`: one that was loaded, a file, the name of a shipped one, or a trace as it is.
    `starts`, or as many as make `hours` (h) in all, or number `start` alone; each of `duration_s`
    (s). `set`: keys to set. Runs starts again to find what is wrong unless `findings` is False:
    then `Result.findings` is None. `rare`: also estimates rare failsafe trips. `workers`:
    processes, 1: this one. `on_progress` is called with (done, total). Raises RadiosimError.
    """
    with in_python_words():
        if isinstance(scenario, Trace):
            changes = (starts, hours, start, duration_s, seed)
            if rare or tuple(set) or any(value is not None for value in changes):
                raise OptionError("scenario: must be no trace where something is to be changed")
            summary = summarise(scenario, has_curves=True)
            asked, trace = scenario.scenario, scenario
            reread: Reread | None = None
            # What may be wrong is tried again on the engine that served, where one was chosen.
            engine = "reference" if trace.engine == "reference" else "auto"
            origin = origin_of(asked, asked.seed)
        else:
            given = {"duration_s": duration_s, "seed": seed}
            keys = dict(set) if isinstance(set, Mapping) else tuple(set)
            asked = _asked(scenario, keys, starts, hours, start, **given)
            reread = _rereading(scenario, keys, starts, hours, start, **given)
            origin, trace = origin_of(scenario, asked.seed), None
            # Rows go by and are gone: a start may last for days.
            summary = simulate_starts(
                asked,
                first=start or 0,
                engine=engine,
                workers=workers,
                on_progress=on_progress,
                has_curves=True,
            )
        if findings:
            summary = diagnosed(asked, summary, engine, reread=reread, workers=workers)
        if rare:
            summary = with_rare(
                asked, summary, engine=engine, workers=workers, on_progress=on_progress
            )
    return Result(summary, asked, origin, engine=engine, trace=trace)


def _rereading(source: ScenarioLike, keys: Keys, *options: Any, **given: Any) -> Reread | None:
    """The scenario as its file is read with lines pasted; None where nothing is read."""
    if isinstance(source, Scenario) or isinstance(keys, Mapping):
        return None
    return lambda lines: _asked(source, (*keys, *lines), *options, **given)


def _asked(
    source: ScenarioLike,
    keys: Keys,
    starts: int | None,
    hours: float | None,
    start: int | None,
    **given: Any,
) -> Scenario:
    """The scenario with as many starts as are asked for."""
    if hours is not None and (starts is not None or start is not None):
        raise OptionError("--hours: must stand without --starts and --start")
    if start is not None and starts not in (None, 1):
        raise OptionError(f"--start: must stand without --starts, got --starts {starts}")
    wanted = 1 if start is not None else starts
    asked = scenario_of(source, keys, runs_program=True, starts=wanted, **given)
    return asked if hours is None else lasting(asked, hours)
