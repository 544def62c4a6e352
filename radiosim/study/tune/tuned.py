"""A tuning: all points judged, the best of them chosen, and tried over the whole scenario."""

import dataclasses
import functools
import math
from collections.abc import Iterable, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from pathlib import Path

from radiosim.engine.choice import Engine
from radiosim.measure.summary import RequirementFigures
from radiosim.scenario import Scenario
from radiosim.scenario.changed import changed
from radiosim.study.journal import digest_of
from radiosim.study.run_points import OnProgress, run_points
from radiosim.study.sequential import Narrow
from radiosim.study.starts import simulate_starts
from radiosim.study.tune.influence import Influence, influences, unknown_because
from radiosim.study.tune.point import judged, lean, with_requirements
from radiosim.study.tune.rank import Tried, beating_clocks, front_of, ranked_of, why_of
from radiosim.study.tune.varied import Point, Setting, values_in


def brought(scenario: Scenario, lines: Iterable[str]) -> tuple[str, ...]:
    """Warnings of the scenario with `lines` set that it has not without them, as `path: text`."""
    # Both are filled in alike: a file that leaves keys out may be warned of other things.
    had = set(changed(scenario, ()).warnings)
    return tuple(text for text in changed(scenario, lines).warnings if text not in had)


RUNNERS_UP = 4
MOST_CONFIRMED = 5
"""Points that are tried over the whole scenario before none is taken for good."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Confirmed:
    """What the whole scenario, all its starts at their length, made of one point."""

    values: Point
    starts: int
    duration_s: float
    requirements: tuple[RequirementFigures, ...]
    is_new: bool
    """It is more than what the point was chosen on: further starts, or longer ones."""

    @property
    def ok(self) -> bool | None:
        """Every requirement held; None: none failed, but not all could be judged."""
        found = {requirement.ok for requirement in self.requirements}
        return False if False in found else None if None in found else True


@dataclass(frozen=True, slots=True, kw_only=True)
class Tuned:
    """What came out."""

    scenario: str
    settings: tuple[Setting, ...]
    as_it_stands: Tried
    """The scenario without any change: chosen from too."""
    points: tuple[Tried, ...]
    assumed: tuple[str, ...]
    """Requirements that were taken because the scenario has none."""
    ranked: tuple[Tried, ...]
    """From the best on; those that were refused are left out."""
    best: Tried | None
    why: str
    front: tuple[Tried, ...]
    influence: Mapping[str, Influence]
    """By setting: shares of the margin's variance; none where they are not known."""
    influence_unknown: str
    """Why they are not; else empty."""
    starts: int
    """Starts of each point; at most so many where each takes what it needs."""
    duration_s: float
    narrow: Narrow | None
    confirmed: tuple[Confirmed, ...] = ()
    """The points that were tried over the whole scenario, the recommended one last."""
    warnings: tuple[str, ...] = ()
    """Of the recommended settings, as `path: text`; not those of the scenario as it stands."""

    @property
    def runners_up(self) -> tuple[Tried, ...]:
        """The next best."""
        return tuple(point for point in self.ranked if point is not self.best)[:RUNNERS_UP]

    @property
    def cautions(self) -> tuple[str, ...]:
        """What whoever takes the recommended settings must know, in a few words each."""
        if self.best is None:
            return ()
        missed = () if self.ok else ("they miss a requirement, or were not confirmed",)
        if not self.best.is_near:
            return missed
        return (*missed, f"{beating_clocks(self.best)} beat")

    @property
    def ok(self) -> bool:
        """The recommended point holds every requirement, over the whole scenario too if tried."""
        held = self.best is not None and self.best.ok
        return held and (not self.confirmed or self.confirmed[-1].ok is True)


def tuned(
    scenario: Scenario,
    settings: Sequence[Setting],
    points: Sequence[Point],
    *,
    narrow: Narrow | None = None,
    engine: Engine = "auto",
    journal: Path | None = None,
    executor: Executor | None = None,
    workers: int | None = None,
    on_progress: OnProgress | None = None,
) -> Tuned:
    """Judge every point over the scenario's own starts, on the same draws.

    With `narrow`, over as many of them as its figure takes.
    """
    asked, assumed = with_requirements(scenario)
    lines = [(), *(lines_of(settings, point) for point in points)]
    stands, *rows = run_points(
        functools.partial(judged, asked, engine, narrow),
        lines,
        fold=tuple,
        digest=digest_of("tune", asked, lines, narrow),
        journal=journal,
        executor=executor,
        workers=workers,
        on_progress=on_progress,
    )
    own = values_in(scenario, settings)
    as_it_stands = Tried(values=own, row=stands, stands=True)
    tried = tuple(
        Tried(values=p, row=row, stands=p == own) for p, row in zip(points, rows, strict=True)
    )
    ranked = ranked_of(tried if own in points else (as_it_stands, *tried))
    best = ranked[0] if ranked else None
    judged_ones = [point for point in tried if point.margin is not None]
    places, margins = (
        [point.values for point in judged_ones],
        [point.margin or 0.0 for point in judged_ones],
    )
    unknown = unknown_because(places, margins)
    shares = () if unknown else influences(places, margins)
    return Tuned(
        scenario=scenario.name,
        settings=tuple(settings),
        as_it_stands=as_it_stands,
        points=tried,
        assumed=assumed,
        ranked=tuple(ranked),
        best=best,
        why=why_of(best, ranked),
        front=front_of(ranked),
        influence={entry.key: share for entry, share in zip(settings, shares, strict=False)},
        influence_unknown=unknown,
        starts=scenario.starts,
        duration_s=scenario.duration_s,
        narrow=narrow,
        warnings=_brought(scenario, settings, best),
    )


def _brought(
    scenario: Scenario, settings: Sequence[Setting], best: Tried | None
) -> tuple[str, ...]:
    return () if best is None else brought(scenario, lines_of(settings, best.values))


def lines_of(settings: Sequence[Setting], point: Point) -> tuple[str, ...]:
    """The settings of a point as `--set` takes them; none for what the scenario has no number
    for."""
    return tuple(
        setting.line(value)
        for setting, value in zip(settings, point, strict=True)
        if not math.isnan(value)
    )


def confirmed(
    found: Tuned,
    whole: Scenario,
    *,
    engine: Engine = "auto",
    executor: Executor | None = None,
    workers: int | None = None,
) -> Tuned:
    """The best point tried over a whole scenario, and those after it until one holds there too.

    If none of the first few does, the first stays.
    """
    asked, _ = with_requirements(whole)
    tries: list[Confirmed] = []
    for point in found.ranked[:MOST_CONFIRMED]:
        if tries and not point.ok:
            break
        scenario = changed(asked, lines_of(found.settings, point.values))
        summary = simulate_starts(lean(scenario), engine=engine, executor=executor, workers=workers)
        tries.append(
            Confirmed(
                values=point.values,
                starts=summary.starts,
                duration_s=summary.duration_s,
                requirements=summary.requirements,
                is_new=summary.starts > point.row["starts"]
                or summary.duration_s > found.duration_s,
            )
        )
        if tries[-1].ok is not False:
            return _with_best(found, whole, point, tries)
    if not tries:
        return found
    return _with_best(found, whole, found.ranked[0], [*tries[1:], tries[0]])


def _with_best(found: Tuned, whole: Scenario, best: Tried, tries: Sequence[Confirmed]) -> Tuned:
    why = found.why
    if best is not found.ranked[0]:
        why = why_of(best, found.ranked, passed_over=len(tries) - 1)
    return dataclasses.replace(
        found,
        best=best,
        why=why,
        confirmed=tuple(tries),
        warnings=_brought(whole, found.settings, best),
    )
