"""Logs of the bench against a scenario: what held, what the log alone tells, what explains it."""

from collections.abc import Sequence
from concurrent.futures import Executor

from msgspec import Struct
from msgspec.structs import replace

from radiosim.bench_log.csv_records import Names
from radiosim.bench_log.records import RECEIVER, LogError, UnitLog
from radiosim.engine.simulate import Engine
from radiosim.scenario import Scenario
from radiosim.scenario.changed import changed
from radiosim.study.fit.candidates import candidates
from radiosim.study.fit.explained import (
    Explanation,
    explanations,
    fitting,
    together,
)
from radiosim.study.fit.figure import Values, Window
from radiosim.study.fit.gaps import GapCurve, gap_curves
from radiosim.study.fit.judged import FIRST_STARTS, Judged, is_clear, judged, starts_for
from radiosim.study.fit.log_figures import figures_of, whole_window
from radiosim.study.fit.offsets import Offsets, offsets
from radiosim.study.fit.reactions import reaction_figure, reactions_ms
from radiosim.study.fit.setting import RERUN_STARTS, Setting, Simulated
from radiosim.study.fit.simulating import Part, Simulating
from radiosim.study.fit.told import (
    LogUsed,
    NotMeasured,
    Told,
    failsafes_told,
    not_measured,
    told,
    used,
    warnings,
)
from radiosim.study.run_points import OnProgress
from radiosim.study.worker_pool import shared_pool

MOST_S = 600.0
"""Of a log that is judged: what comes later tells little more, and takes as long to simulate."""
_SHORTEST_S = 5.0
_FEWEST_REACTIONS = 4
"""Of which half are held back."""


class Again(Struct, frozen=True, kw_only=True):
    """The scenario with what was fitted, judged on time that nothing was fitted to."""

    seconds: float
    lines: tuple[str, ...]
    """The settings as the other half has them, KEY=VALUE."""
    figures: tuple[Judged, ...]

    @property
    def ok(self) -> bool:
        """Whether every figure held there."""
        return all(row.is_held for row in self.figures)


class Fit(Struct, frozen=True, kw_only=True):
    """All that logs say of a scenario."""

    scenario: str
    title: str
    version: str
    seed: int
    starts: int
    """Simulated logs that each figure is judged beside."""
    seconds: float
    """Of each log that is judged."""
    logs: tuple[LogUsed, ...]
    warnings: tuple[str, ...]
    figures: tuple[Judged, ...]
    told: tuple[Told, ...]
    explanations: tuple[Explanation, ...]
    unexplained: tuple[str, ...]
    """Keys of figures that did not hold and that no setting tried explains."""
    not_measured: tuple[NotMeasured, ...]
    settings: tuple[Setting, ...]
    """The best explanations that do not overlap: what --write sets."""
    still_out: tuple[str, ...]
    """Keys of figures that do not fit with all of `settings`; on the log that they come from."""
    again: Again | None
    """None: nothing was fitted, or the log is too short to hold some of it back."""
    gaps: tuple[GapCurve, ...]
    """On the time that was held back if some was, then of the scenario as it was fitted."""
    offsets: tuple[Offsets, ...]

    @property
    def ok(self) -> bool:
        """Whether every figure held."""
        return all(row.is_held for row in self.figures)


def names_of(scenario: Scenario) -> Names:
    """What logs of a scenario may name."""
    return Names(transmitters=tuple(scenario.transmitter), outputs=tuple(scenario.output))


@shared_pool()
def fit_logs(
    scenario: Scenario,
    logs: Sequence[UnitLog],
    *,
    version: str,
    engine: Engine = "auto",
    workers: int | None = None,
    executor: Executor | None = None,
    on_progress: OnProgress | None = None,
) -> Fit:
    """Judge the logs of units, one each, of one run; LogError if they are too short.

    Only starts without faults are simulated, but for reactions of failsafe: those of starts in
    which the transmitter is switched off. What did not hold is fitted to the first half of the
    log, if it is long enough, and judged again on the second.
    """
    how = Simulating(
        units=tuple(log.unit for log in logs),
        real_time=tuple(log.unit for log in logs if log.is_real_time),
        engine=engine,
        workers=workers,
        executor=executor,
    )
    whole = _of_window(scenario, logs, _window(scenario, logs), part=None)
    if not whole.figures:
        raise LogError(f"{logs[0].source}: has nothing to judge: no frame, no sample and no pass")
    values = _enough(how, scenario, whole, on_progress)
    rows = judged(whole.figures, values)

    def simulated(other: Scenario, count: int) -> Sequence[Values]:
        if other is scenario and count <= len(values):
            return values[:count]
        return how.values(other, whole, range(count))

    why = explanations(scenario, whole.figures, rows, simulated)
    settings = tuple(one.setting for one in together(why))
    again = _again(scenario, logs, whole, rows, settings, how) if settings else None
    # Gaps are shown of what is believed after the fit, where they were not fitted to.
    part, shown = (whole, values) if again is None else (again.part, again.simulated)
    return Fit(
        scenario=scenario.name,
        title=scenario.title or scenario.name,
        version=version,
        seed=scenario.seed,
        starts=len(values),
        seconds=whole.window.length_us / 1e6,
        logs=tuple(used(log) for log in logs),
        warnings=tuple(warnings(scenario, logs, rows)),
        figures=rows,
        told=tuple(told(scenario, logs, whole.window)),
        explanations=why,
        unexplained=_unexplained(rows, why),
        not_measured=tuple(not_measured(scenario, logs, whole.figures)),
        settings=settings,
        still_out=_still_out(scenario, rows, settings, simulated),
        again=None if again is None else again.found,
        gaps=tuple(gap_curves(scenario, logs, part.window, shown)),
        offsets=tuple(offsets(scenario, logs, whole.window)),
    )


def _enough(
    how: Simulating, scenario: Scenario, part: Part, on_progress: OnProgress | None = None
) -> tuple[Values, ...]:
    """Figures of as many starts as judge a part of the log, or fewer if none can miss."""
    total = starts_for(len(part.figures))
    values = how.values(scenario, part, range(min(FIRST_STARTS, total)), on_progress)
    if len(values) < total and not is_clear(part.figures, values):
        values = (*values, *how.values(scenario, part, range(len(values), total), on_progress))
    return values


class _Judged(Struct, frozen=True, kw_only=True):
    """A verdict on time that was held back, that time, and the simulated figures that it rests
    on."""

    found: Again
    part: Part
    simulated: Sequence[Values]


def _again(
    scenario: Scenario,
    logs: Sequence[UnitLog],
    whole: Part,
    rows: Sequence[Judged],
    settings: Sequence[Setting],
    how: Simulating,
) -> _Judged | None:
    """The settings fitted to the first half alone, judged on the second; None if the log is too
    short, or that half too little to fit them."""
    halves = _halves(scenario, logs, whole)
    if halves is None:
        return None
    first, second = halves

    def simulated(other: Scenario, count: int) -> Sequence[Values]:
        return how.values(other, first, range(count))

    wanted = {one.keys for one in settings}
    found = {
        one.keys: one
        for one in candidates(scenario, first.figures, rows, simulated)
        if one.keys in wanted
    }
    if set(found) != wanted:
        return None
    lines = tuple(line for one in settings for line in found[one.keys].lines)
    values = _enough(how, changed(scenario, lines), second)
    return _Judged(
        found=Again(
            seconds=second.window.length_us / 1e6,
            lines=lines,
            figures=judged(second.figures, values),
        ),
        part=second,
        simulated=values,
    )


def _unexplained(rows: Sequence[Judged], why: Sequence[Explanation]) -> tuple[str, ...]:
    explained = {key for one in why for key in one.explains}
    return tuple(row.key for row in rows if not row.is_held and row.key not in explained)


def _still_out(
    scenario: Scenario, rows: Sequence[Judged], settings: Sequence[Setting], again: Simulated
) -> tuple[str, ...]:
    if not settings:
        return ()
    lines = tuple(line for one in settings for line in one.lines)
    fits = fitting(rows, again(changed(scenario, lines), RERUN_STARTS))
    return tuple(key for key, is_fitting in fits.items() if not is_fitting)


def _window(scenario: Scenario, logs: Sequence[UnitLog]) -> Window:
    found = whole_window(logs, tuple(scenario.transmitter))
    if found is None or found.length_us < _SHORTEST_S * 1e6:
        raise LogError(
            f"{logs[0].source}: must go on for {_SHORTEST_S + 1:g} s after the first frame of each "
            "stream, without a reset between, in every unit's log"
        )
    return Window(
        skipped_us=0,
        length_us=min(found.length_us, round(MOST_S * 1e6)),
        failsafes=failsafes_told(scenario, logs),
    )


def _halves(scenario: Scenario, logs: Sequence[UnitLog], whole: Part) -> tuple[Part, Part] | None:
    """The part that is fitted to, and the one held back; None if the log is too short."""
    length_us = whole.window.length_us // 2
    if length_us < _SHORTEST_S * 1e6:
        return None
    first = replace(whole.window, length_us=length_us)
    second = replace(first, skipped_us=first.skipped_us + length_us)
    return (
        _of_window(scenario, logs, first, part=0),
        _of_window(scenario, logs, second, part=1),
    )


def _of_window(
    scenario: Scenario, logs: Sequence[UnitLog], window: Window, *, part: int | None
) -> Part:
    """`part`: which half of the reactions; None: all. What boots once is of the first alone."""
    figures = figures_of(scenario, logs, window)
    if part == 1:
        figures.pop("boot.receiver", None)
    reactions = {
        name: found
        for log in logs
        if log.unit == RECEIVER
        for name in window.failsafes
        if (found := _half(reactions_ms(scenario, log, name), part))
    }
    for name, found in reactions.items():
        figure = reaction_figure(name, found)
        figures[figure.key] = figure
    return Part(
        window=window,
        figures=figures,
        reactions={name: len(found) for name, found in reactions.items()},
    )


def _half(found: list[float], part: int | None) -> list[float]:
    """All, or a half of four or more; fewer are fitted to and not judged again."""
    middle = len(found) // 2 if len(found) >= _FEWEST_REACTIONS else len(found)
    return found if part is None else (found[:middle], found[middle:])[part]
