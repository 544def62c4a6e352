"""All drills of a scenario on all cores, and the trade-off of its timeouts beside them."""

import math
from collections.abc import Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from pathlib import Path

import msgspec
from msgspec.structs import replace

from radiosim.engine.simulate import Engine, choose
from radiosim.engine.stratification import EVERY
from radiosim.errors import OptionError
from radiosim.scenario import Scenario
from radiosim.scenario.assumed import guessed_presets, losses_said
from radiosim.scenario.danger import outputs_by_danger, streams_by_danger
from radiosim.scenario.noise import noise_notes
from radiosim.study.amount import OnAmounts
from radiosim.study.drill.beats import beats_of
from radiosim.study.drill.cures import periods_for, timeouts_for
from radiosim.study.drill.drill_kinds import drills_of
from radiosim.study.drill.judged import (
    asked_reaction_ms,
    judged_requirements,
    reaction_violations,
    trip_violations,
    worst_of,
)
from radiosim.study.drill.points import rhythm_of, without_hopeless_needs
from radiosim.study.drill.results import (
    Asked,
    BoundTerm,
    Drilled,
    DrillFigures,
    FeasibleRange,
    StreamBound,
    TradeOffPoint,
    is_all_well,
)
from radiosim.study.drill.trade_off import (
    TIMEOUTS_MS,
    Trips,
    feasible_range_of,
    if_beats_were_seen,
    longest_bound,
    trade_off_of,
)
from radiosim.study.drill.tried_cures import DrillAgain, TriedCures, tried_cures
from radiosim.study.drill.work import (
    DRILLS,
    TRADE_OFF,
    OfStart,
    Part,
    Work,
    drill_figures,
    limits_of,
    other_figures,
)
from radiosim.study.journal import digest_of
from radiosim.study.run_points import OnProgress, run_points
from radiosim.study.starts import lasting
from radiosim.study.worker_pool import shared_pool
from radiosim.units import ms_from_ns
from radiosim.version import VERSION

NUISANCE_PER_HOUR = 1.0
REACTION_MS = 500.0
"""What is asked of a timeout if nobody says."""
REPEATS, CYCLES = 192, 4
"""Faults of each drill, and how many of them share a start."""
TO_SHOW = 4.0
"""Mean number of trips that as much time would see at the rate asked: none seen is proof then."""
MOST_HOURS, SHORTEST_S = 8.0, 300.0
"""Simulated time of the trade-off, unless more is asked for, and of one of its starts."""
FEWEST_STARTS, LEAST_UP_S = 2 * EVERY, 10.0
"""Starts of the trade-off, which come round as they are placed on a beat: fewer would not be
weighed fairly. And for how long all is up in each, if few hours are asked for."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DrillOptions:
    """What to drill, and what to ask of a timeout; None where nothing was said."""

    repeats: int = REPEATS
    skip: tuple[str, ...] = ()
    nuisance_per_hour: float | None = None
    reaction_ms: float | None = None
    hours: float | None = None
    """Simulated time of the trade-off."""
    engine: Engine = "auto"
    workers: int | None = None


@shared_pool()
def drill_failsafe(
    scenario: Scenario,
    drill_options: DrillOptions = DrillOptions(),
    *,
    journal: Path | None = None,
    executor: Executor | None = None,
    on_progress: OnProgress | None = None,
    on_amounts: OnAmounts = lambda _: None,
) -> Drilled:
    """Drill every fault of a scenario, and try timeouts on it; its own faults are left out.

    The result does not depend on where its starts are simulated, nor on whether it was stopped and
    gone on with (`journal`). ValueError for fewer than one repeat, OptionError for too many hours.
    """
    _check(scenario, drill_options, journal)
    scenario, notes = without_hopeless_needs(scenario)
    asked = _asked(scenario, drill_options)
    work = _work(scenario, drill_options)
    quiet_starts = _trade_off_starts(work.quiet, asked, drill_options.hours)
    on_amounts(work.amounts(quiet_starts))
    points = [Part(of=TRADE_OFF, start=k) for k in range(quiet_starts)]
    points += [Part(of=DRILLS, start=k) for k in range(work.starts)]
    rows = run_points(
        work.row_of,
        points,
        fold=tuple,
        digest=digest_of(
            "failsafe",
            scenario,
            points,
            work.timeouts_ms,
            drill_options.skip,
            work.quiet.duration_s,
        ),
        journal=journal,
        executor=executor,
        workers=drill_options.workers,
        on_progress=on_progress,
    )
    trips = [msgspec.convert(row, Trips) for row in rows[:quiet_starts]]
    found = [msgspec.convert(row, OfStart) for row in rows[quiet_starts:]]

    def drill_again(cured: Scenario) -> Sequence[DrillFigures]:
        again = _work(cured, drill_options)
        shown = run_points(
            again.drilled,
            range(again.starts),
            fold=tuple,
            executor=executor,
            workers=drill_options.workers,
            on_progress=on_progress,
        )
        return tuple(drill_figures(again, shown))

    return _drilled(work, drill_options, asked, notes, trips, found, drill_again)


def _check(scenario: Scenario, drill_options: DrillOptions, journal: Path | None) -> None:
    if drill_options.repeats < 1:
        raise ValueError(f"repeats must be >= 1, got {drill_options.repeats}")
    if drill_options.hours is not None:
        lasting(scenario, drill_options.hours)  # refuses more than a run may have
    if journal is not None and scenario.receiver.program is not None:
        raise OptionError(
            "--resume: must stand without receiver.program, which may have changed meanwhile"
        )


def _work(scenario: Scenario, drill_options: DrillOptions) -> Work:
    """What is drilled, in which rhythm, and which timeouts are tried."""
    drills = drills_of(scenario, drill_options.skip)
    rhythm = rhythm_of(scenario, CYCLES)
    lasts_s = _trade_off_start_s(scenario, drill_options.hours, up_s=rhythm.first_s)
    own_ms = {failsafe.timeout_ms for failsafe in scenario.failsafe.values()}
    return Work(
        scenario=scenario,
        quiet=replace(scenario, fault=(), requirement=(), duration_s=lasts_s),
        timeouts_ms=tuple(sorted({*TIMEOUTS_MS, *own_ms})),
        drills=drills,
        limits=limits_of(scenario, drills),
        rhythm=rhythm,
        starts=math.ceil(drill_options.repeats / CYCLES),
        engine=drill_options.engine,
    )


def _drilled(
    work: Work,
    drill_options: DrillOptions,
    asked: Asked,
    notes: tuple[str, ...],
    trips: Sequence[Trips],
    found: Sequence[OfStart],
    drill_again: DrillAgain,
) -> Drilled:
    """What all parts together have shown, judged, and cured."""
    scenario, drills = work.scenario, work.drills
    figures, others = tuple(drill_figures(work, found)), tuple(other_figures(work, found))
    worst = worst_of(scenario, figures)
    bound = {name: _bound(scenario, name) for name in streams_by_danger(scenario)}
    trade_off = trade_off_of(work.quiet, trips, work.timeouts_ms) if trips else {}
    hours = len(trips) * work.quiet.duration_s / 3600
    feasible_range = _feasible_ranges(scenario, asked, trade_off, trips, hours)
    now_ms = {
        name: scenario.failsafe[name].timeout_ms for name in bound if name in scenario.failsafe
    }
    violations = (
        *reaction_violations(drill_options.reaction_ms, now_ms, bound, worst),
        *trip_violations(drill_options.nuisance_per_hour, now_ms, trade_off),
    )
    requirements = judged_requirements(scenario, worst)
    guessed = outputs_by_danger(scenario, guessed_presets(scenario))
    beats = tuple(beats_of(work.quiet, work.timeouts_ms, trips, work.engine)) if trips else ()
    asked_for = (*timeouts_for(violations, feasible_range), *periods_for(beats))
    tried = TriedCures(cures=(), uncured=())
    if scenario.receiver.program is None:
        tried = tried_cures(scenario, drills, figures, asked_for, drill_again)
    return Drilled(
        scenario=scenario.name,
        title=scenario.title,
        seed=scenario.seed,
        version=VERSION,
        engine=choose(drill_options.engine).engine,
        repeats=work.starts * CYCLES,
        simulated_s=work.drilled_s,
        trade_off_s=3600 * hours,
        skipped=drill_options.skip,
        assumed=scenario.assumed,
        notes=(*notes, *noise_notes(scenario)),
        drills=figures,
        others=others,
        bound=bound,
        worst=worst,
        asked=asked,
        timeout_ms=now_ms,
        trade_off=trade_off,
        feasible_range=feasible_range,
        rests_on=losses_said(scenario),
        beats=beats,
        requirements=requirements,
        violations=violations,
        cures=tried.cures,
        uncured=tried.uncured,
        guessed=guessed,
        ok=is_all_well(figures, others, requirements, violations, guessed),
    )


def _feasible_ranges(
    scenario: Scenario,
    asked: Asked,
    trade_off: Mapping[str, tuple[TradeOffPoint, ...]],
    trips: Sequence[Trips],
    hours: float,
) -> dict[str, FeasibleRange]:
    """Which timeouts of each stream keep both what was asked."""
    return {
        name: if_beats_were_seen(
            feasible_range_of(
                scenario, name, curve, asked.nuisance_per_hour, asked.reaction_ms[name], hours
            ),
            trips,
        )
        for name, curve in trade_off.items()
    }


def _asked(scenario: Scenario, drill_options: DrillOptions) -> Asked:
    """What was asked for, else what the scenario requires, else defaults that are told."""
    defaults = []
    per_hour = drill_options.nuisance_per_hour
    if per_hour is None:
        per_hour = NUISANCE_PER_HOUR
        defaults.append(f"nuisance trips under {per_hour:g} an hour (--nuisance-per-hour)")
    reactions_ms: dict[str, float] = {}
    for name in streams_by_danger(scenario):
        required_ms = asked_reaction_ms(scenario, name)
        reactions_ms[name] = drill_options.reaction_ms or required_ms or REACTION_MS
        if drill_options.reaction_ms is None and required_ms is None:
            defaults.append(f"{name} reacts within {REACTION_MS:g} ms (--reaction-ms)")
    return Asked(
        nuisance_per_hour=per_hour,
        reaction_ms=reactions_ms,
        hours=drill_options.hours,
        defaults=tuple(defaults),
    )


def _trade_off_start_s(scenario: Scenario, hours: float | None, up_s: float) -> float:
    """Length of one start of the trade-off: for few hours shorter, but never than the scenario."""
    longest_s = max(scenario.duration_s, SHORTEST_S)
    if hours is None:
        return longest_s
    return min(longest_s, max(scenario.duration_s, up_s + LEAST_UP_S, hours * 3600 / FEWEST_STARTS))


def _trade_off_starts(scenario: Scenario, asked: Asked, hours: float | None) -> int:
    """Starts of the trade-off: as much time as shows that trips are as rare as asked."""
    if not scenario.failsafe:
        return 0
    if hours is None:
        of_scenario = scenario.starts * scenario.duration_s / 3600
        wanted = TO_SHOW / asked.nuisance_per_hour if asked.nuisance_per_hour > 0 else MOST_HOURS
        hours = min(max(of_scenario, wanted), MOST_HOURS)
    return max(FEWEST_STARTS, math.ceil(hours * 3600 / scenario.duration_s))


def _bound(scenario: Scenario, stream: str) -> StreamBound:
    found = longest_bound(scenario, stream)
    if found is None:
        has_timer = stream in scenario.failsafe
        why = "its outputs hold their last values" if has_timer else "it has no failsafe"
        return StreamBound(output="", terms=(), total_ms=None, why=why)
    output, bound = found
    total_ns = bound.total_ns
    return StreamBound(
        output=output,
        terms=tuple(BoundTerm(name=term.name, ms=ms_from_ns(term.ns)) for term in bound.terms),
        total_ms=None if total_ns is None else ms_from_ns(total_ns),
        why=bound.why_none,
    )
