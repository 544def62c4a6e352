"""A tuning: all points judged, the best of them chosen, and tried over the whole scenario."""

import functools
from collections.abc import Iterable, Sequence
from concurrent.futures import Executor
from pathlib import Path

from msgspec.structs import replace

from radiosim.engine.simulate import Engine
from radiosim.scenario import Scenario
from radiosim.scenario.changed import changed
from radiosim.scenario.power import caution_of_change
from radiosim.study.journal import digest_of
from radiosim.study.range import shortened
from radiosim.study.run_points import OnProgress, run_points
from radiosim.study.starts import Narrow, narrow_of, simulate_starts
from radiosim.study.tune.influence import Influence, influences, unknown_because
from radiosim.study.tune.point import judged, lean, tried_of, with_requirements
from radiosim.study.tune.rank import pareto_front_of, ranked_of, why_of
from radiosim.study.tune.tune_results import Confirmed, Recommended, Tried, Tuned
from radiosim.study.tune.varied import Point, Setting, Values, chosen, values_in
from radiosim.version import VERSION


def brought(scenario: Scenario, lines: Iterable[str]) -> tuple[str, ...]:
    """Warnings of the scenario with `lines` set that it has not without them, as `path: text`.

    The last is the caution of power, where they raise it.
    """
    # Both are filled in alike: a file that leaves keys out may be warned of other things.
    had, after = set(changed(scenario, ()).warnings), changed(scenario, lines)
    power = caution_of_change(scenario, after)
    return (
        *(text for text in after.warnings if text not in had),
        *((f"power: {power}",) if power else ()),
    )


RUNNERS_UP = 4
MOST_CONFIRMED = 5
"""Points that are tried over the whole scenario before none is taken for good."""


def tune_scenario(
    part: Scenario,
    whole: Scenario,
    *,
    vary: Sequence[str] = (),
    points: int | None = None,
    starts: int | None = None,
    duration_s: float | None = None,
    narrow: str | None = None,
    engine: Engine = "auto",
    journal: Path | None = None,
    executor: Executor | None = None,
    workers: int | None = None,
    on_progress: OnProgress | None = None,
) -> Tuned:
    """Judge points over a part of a scenario, and try the best of them over the whole.

    `starts` and `duration_s` are those that were asked for, which `part` has; None stands for what
    fits the scenario. ScenarioError, VaryError or NarrowError for what cannot be tried.
    """
    asked = None if narrow is None else narrow_of(narrow, whole)
    # Faults have their instants, and requirements may be about them.
    whole_s = whole.duration_s if whole.fault else None
    # Where as many are added as it takes, the scenario's own number is the most.
    most = whole.starts if asked is not None and starts is None else starts
    part = shortened(part, most, duration_s or whole_s)
    settings, tries = chosen(part, vary, points)
    found = tuned(
        part,
        settings,
        tries,
        narrow=asked,
        engine=engine,
        journal=journal,
        executor=executor,
        workers=workers,
        on_progress=on_progress,
    )
    return confirmed(found, whole, engine=engine, executor=executor, workers=workers)


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
    own_row, *rows = run_points(
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
    tried = tuple(
        tried_of(point, row, is_own=point == own) for point, row in zip(points, rows, strict=True)
    )
    ranked = _ranked(tried_of(own, own_row, is_own=True), tried)
    best = ranked[0] if ranked else None
    influence, influence_unknown = _influence(settings, points, tried)
    return Tuned(
        scenario=scenario.name,
        title=scenario.title,
        seed=scenario.seed,
        version=VERSION,
        starts=scenario.starts,
        duration_s=scenario.duration_s,
        narrow=narrow,
        settings=tuple(settings),
        assumed=assumed,
        as_it_stands=tried_of(own, own_row, is_own=True),
        points=tried,
        recommended=_recommended(scenario, settings, best, why_of(best, ranked)),
        runners_up=_runners_up(ranked, best),
        pareto_front=tuple(point.values for point in pareto_front_of(ranked)),
        influence=influence,
        influence_unknown=influence_unknown,
        ok=best is not None and best.ok,
    )


def _ranked(as_it_stands: Tried, tried: Sequence[Tried]) -> list[Tried]:
    """All points that were judged, the best first; the scenario's own settings once."""
    is_among = any(point.values == as_it_stands.values for point in tried)
    return ranked_of(tried if is_among else (as_it_stands, *tried))


def _influence(
    settings: Sequence[Setting], points: Sequence[Point], tried: Sequence[Tried]
) -> tuple[dict[str, Influence], str]:
    """Shares by setting, and why there are none."""
    pairs = zip(points, tried, strict=True)
    judged_ones = [(point, it.margin) for point, it in pairs if it.margin is not None]
    places, margins = [point for point, _ in judged_ones], [margin for _, margin in judged_ones]
    unknown = unknown_because(places, margins)
    shares = () if unknown else influences(places, margins)
    return {entry.key: share for entry, share in zip(settings, shares, strict=False)}, unknown


def _recommended(
    scenario: Scenario, settings: Sequence[Setting], best: Tried | None, why: str
) -> Recommended | None:
    if best is None:
        return None
    return Recommended(
        values=best.values,
        is_own=best.is_own,
        why=why,
        warnings=brought(scenario, lines_of(settings, best.values)),
        beating=tuple((pair.first, pair.second) for pair in best.beating),
    )


def _runners_up(ranked: Sequence[Tried], best: Tried | None) -> tuple[Values, ...]:
    return tuple(point.values for point in ranked if point is not best)[:RUNNERS_UP]


def lines_of(settings: Sequence[Setting], values: Values) -> tuple[str, ...]:
    """The settings of a point as `--set` takes them; none for what the scenario has no number
    for."""
    return tuple(
        setting.line(value)
        for setting, value in zip(settings, values, strict=True)
        if value is not None
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
    ranked = _ranked(found.as_it_stands, found.points)
    tries: list[Confirmed] = []
    for point in ranked[:MOST_CONFIRMED]:
        if tries and not point.ok:
            break
        scenario = changed(asked, lines_of(found.settings, point.values))
        summary = simulate_starts(lean(scenario), engine=engine, executor=executor, workers=workers)
        verdicts = {requirement.ok for requirement in summary.requirements}
        tries.append(
            Confirmed(
                values=point.values,
                starts=summary.starts,
                duration_s=summary.duration_s,
                ok=False if False in verdicts else None if None in verdicts else True,
                is_new=summary.starts > point.judged.starts
                or summary.duration_s > found.duration_s,
                requirements=summary.requirements,
            )
        )
        if tries[-1].ok is not False:
            return _with_best(found, whole, ranked, len(tries) - 1, tries)
    if not tries:
        return found
    return _with_best(found, whole, ranked, 0, [*tries[1:], tries[0]])


def _with_best(
    found: Tuned, whole: Scenario, ranked: Sequence[Tried], place: int, tries: Sequence[Confirmed]
) -> Tuned:
    """With the point at a place of the ranking recommended, as those tries have it."""
    best = ranked[place]
    why = why_of(best, ranked, passed_over=place)
    return replace(
        found,
        recommended=_recommended(whole, found.settings, best, why),
        confirmed=tuple(tries),
        runners_up=_runners_up(ranked, best),
        ok=best.ok and tries[-1].ok is True,
    )
