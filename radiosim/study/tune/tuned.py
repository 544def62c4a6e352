"""A tuning: all points judged, the best of them chosen, and tried over the whole scenario."""

import functools
from collections.abc import Sequence
from concurrent.futures import Executor
from pathlib import Path

from msgspec.structs import replace

from radiosim.engine.simulate import Engine
from radiosim.scenario import Scenario
from radiosim.scenario.structs.failsafe_and_fault import Fault
from radiosim.study.amount import OnAmounts, amount_of_starts
from radiosim.study.journal import digest_of
from radiosim.study.range import shortened
from radiosim.study.run_points import OnProgress, run_points
from radiosim.study.starts import Narrow, narrow_of
from radiosim.study.tune.choice import Choice, guarded_point, lines_of, runners_up
from radiosim.study.tune.confirm import confirmed
from radiosim.study.tune.guard import guarded_of
from radiosim.study.tune.influence import Influence, influences, unknown_because
from radiosim.study.tune.point import judged, reachable, tried_of, with_requirements
from radiosim.study.tune.rank import pareto_front_of
from radiosim.study.tune.tune_results import Tried, Tuned
from radiosim.study.tune.varied import Point, Setting, chosen, values_in
from radiosim.study.worker_pool import shared_pool
from radiosim.version import VERSION


@shared_pool()
def tune_scenario(
    part: Scenario,
    whole: Scenario,
    *,
    vary: Sequence[str] = (),
    prefer: Sequence[str] = (),
    points: int | None = None,
    starts: int | None = None,
    duration_s: float | None = None,
    narrow: str | None = None,
    engine: Engine = "auto",
    journal: Path | None = None,
    executor: Executor | None = None,
    workers: int | None = None,
    on_progress: OnProgress | None = None,
    on_amounts: OnAmounts = lambda _: None,
) -> Tuned:
    """Judge points over a part of a scenario, and try the best of them over the whole.

    `starts` and `duration_s` are those that were asked for, which `part` has; None stands for what
    fits the scenario. Streams that `prefer` names come first. ScenarioError, VaryError, OptionError
    or NarrowError for what cannot be tried.
    """
    asked = None if narrow is None else narrow_of(narrow, whole)
    # Faults have their instants, and requirements may be about them.
    whole_s = whole.duration_s if whole.fault else None
    # Where as many are added as it takes, the scenario's own number is the most.
    most = whole.starts if asked is not None and starts is None else starts
    part = shortened(part, most, duration_s or whole_s)
    guarded_of(whole, prefer)
    settings, tries = chosen(part, vary, points)
    points_s = len(tries) * part.starts * part.duration_s
    on_amounts((amount_of_starts(part, points_s, engine),))
    found = tuned(
        part,
        settings,
        tries,
        prefer=prefer,
        narrow=asked,
        engine=engine,
        journal=journal,
        executor=executor,
        workers=workers,
        on_progress=on_progress,
    )
    return confirmed(found, part, whole, engine=engine, executor=executor, workers=workers)


def tuned(
    scenario: Scenario,
    settings: Sequence[Setting],
    points: Sequence[Point],
    *,
    prefer: Sequence[str] = (),
    narrow: Narrow | None = None,
    engine: Engine = "auto",
    journal: Path | None = None,
    executor: Executor | None = None,
    workers: int | None = None,
    on_progress: OnProgress | None = None,
) -> Tuned:
    """Judge every point over the scenario's own starts, on the same draws.

    With `narrow`, over as many of them as its figure takes. OptionError for streams to `prefer`
    that are none.
    """
    prefer = tuple(dict.fromkeys(prefer))
    guarded = guarded_of(scenario, prefer)
    asked, assumed = with_requirements(reachable(scenario))
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
    own_values = values_in(scenario, settings)
    own = tried_of(own_values, own_row, is_own=True)
    tried = tuple(
        guarded_point(tried_of(point, row, is_own=point == own_values), own, guarded)
        for point, row in zip(points, rows, strict=True)
    )
    found = replace(
        _unchosen(scenario, settings, points, own, tried),
        narrow=narrow,
        assumed=assumed,
        faults_left_out=_names_of(scenario) if assumed else (),
        too_short=_too_short(asked),
        prefer=prefer,
        guarded=guarded,
    )
    choice = Choice(found=found, scenario=asked, engine=engine)
    ranked = choice.ranked()
    best = choice.settled(ranked[0]) if ranked else None
    return replace(
        found,
        put_back=choice.put_back,
        recommended=choice.recommended(scenario, best),
        runners_up=runners_up(ranked, best),
        pareto_front=tuple(point.values for point in pareto_front_of(ranked)),
        ok=best is not None and best.ok,
    )


def _unchosen(
    scenario: Scenario,
    settings: Sequence[Setting],
    points: Sequence[Point],
    own: Tried,
    tried: tuple[Tried, ...],
) -> Tuned:
    """A tuning whose points are judged, and none of them chosen yet."""
    influence, influence_unknown = _influence(settings, points, tried)
    return Tuned(
        scenario=scenario.name,
        title=scenario.title,
        seed=scenario.seed,
        version=VERSION,
        starts=scenario.starts,
        duration_s=scenario.duration_s,
        narrow=None,
        settings=tuple(settings),
        assumed=(),
        prefer=(),
        guarded=(),
        too_short=(),
        judged_later=tuple(
            entry.figure
            for entry in scenario.requirement
            if entry not in reachable(scenario).requirement
        ),
        as_it_stands=own,
        points=tried,
        put_back=(),
        recommended=None,
        runners_up=(),
        pareto_front=(),
        influence=influence,
        influence_unknown=influence_unknown,
        ok=False,
    )


def _names_of(scenario: Scenario) -> tuple[str, ...]:
    """Every fault of a scenario, and when."""
    return tuple(
        f"{_name_of(number, fault)} at {fault.at_s:g} s"
        for number, fault in enumerate(scenario.fault)
    )


def _name_of(number: int, fault: Fault) -> str:
    return f"fault[{number}], {fault.kind} of {fault.unit}"


def _too_short(scenario: Scenario) -> tuple[str, ...]:
    """Faults that no start of a scenario reaches, or sees to their end."""
    until_s = scenario.duration_s
    found = []
    for number, fault in enumerate(scenario.fault):
        over_s = fault.at_s + (fault.for_s or 0.0)
        what = _name_of(number, fault)
        if fault.at_s >= until_s:
            found.append(f"{what} at {fault.at_s:g} s, which no point has seen")
        elif over_s >= until_s:
            found.append(f"{what} until {over_s:g} s, whose end no point has seen")
    return tuple(found)


def _influence(
    settings: Sequence[Setting], points: Sequence[Point], tried: Sequence[Tried]
) -> tuple[dict[str, Influence], str]:
    """What each setting explains of the margins of the points that were not refused; why not."""
    numbers = [setting.values.index for setting in settings]
    places, margins = [], []
    for point, one in zip(points, tried, strict=True):
        if one.margin is not None:
            # Words have no order: each is a group of its own.
            places.append(
                tuple(
                    float(numbers[k](value)) if isinstance(value, str) else value
                    for k, value in enumerate(point)
                )
            )
            margins.append(one.margin)
    unknown = unknown_because(places, margins)
    shares = () if unknown else influences(places, margins)
    return {entry.key: share for entry, share in zip(settings, shares, strict=False)}, unknown
