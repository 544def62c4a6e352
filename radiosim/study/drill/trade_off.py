"""The trade-off of a timeout: nuisance trips against reaction time.

All timeouts are tried on the same rows: a failsafe does not act back on the link, so one simulated
start serves every timeout, and differences between them are no chance (common random numbers).
"""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import takewhile

import numpy as np
from msgspec.structs import replace

from radiosim.engine.jit import JitBackend, backend_for
from radiosim.engine.plan import Plan, make_plan
from radiosim.engine.rules.timing import scaled
from radiosim.engine.simulate import Engine, Flow
from radiosim.engine.stratification import Phases, shares_of, weight_of
from radiosim.engine.unit_spans import first_boot_ns
from radiosim.measure.intervals import rate_over_starts
from radiosim.measure.requirements import BEATS_TO_HAVE_SEEN
from radiosim.measure.start import seen_beats
from radiosim.scenario import Scenario
from radiosim.scenario.danger import streams_by_danger
from radiosim.study.drill.judged import acts
from radiosim.study.drill.results import FeasibleRange, TradeOffPoint
from radiosim.trace import Table
from radiosim.units import NS_PER_HOUR, NS_PER_MS, ms_from_ns, ns_from_ms
from radiosim.vehicle.feedback import flow
from radiosim.vehicle.output_fold import FailsafeFold
from radiosim.vehicle.program_fold import Batch, ProgramFold
from radiosim.vehicle.reaction_bound import (
    TICK,
    TIMEOUT,
    Bound,
    bound_of,
    clock_width_ppb,
    with_slowest_clock,
)

TIMEOUTS_MS = (
    *(50, 60, 70, 80, 90, 100, 120, 140, 160, 180, 200, 220, 250, 280, 320, 360, 400, 450),
    *(500, 600, 700, 850, 1000, 1200, 1500, 2000),
)
"""From 50 ms to 2 s, in steps of about a sixth."""
SPARE = 1.02
"""On the time that would show a rate: starts that are weighted do not share it evenly."""
PLENTY = 1e9
"""Beats of clocks that meet all the time: a number that files can hold."""
BATCH_ROWS = 16_384
"""Reads that are gathered before the timers see them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Trips:
    """Nuisance trips of one start."""

    counts: Mapping[str, tuple[int, ...]]
    """Trips by stream, then by timeout."""
    alive: Mapping[str, tuple[float, ...]]
    """Share of the time that its outputs were out of failsafe, since transmitter and receiver were
    up; by stream, by timeout."""
    hours: float
    phases: Phases
    beats: tuple[float, ...]
    """By pair of clocks that can meet: beats that this start can be expected to have seen."""


def with_timeout(scenario: Scenario, timeout_ms: float) -> Scenario:
    """The scenario with one timeout for all its timers."""
    tables = {
        name: replace(failsafe, timeout_ms=timeout_ms)
        for name, failsafe in scenario.failsafe.items()
    }
    return replace(scenario, failsafe=tables)


class _Timers:
    """All timers of a scenario with one timeout, folded over rows."""

    def __init__(
        self, scenario: Scenario, plan: Plan, timeout_ms: float, backend: JitBackend
    ) -> None:
        timed = with_timeout(scenario, timeout_ms)
        self._program = ProgramFold(timed, plan, backend)
        self._folds = {
            name: FailsafeFold(timed, plan, plan.streams.index(name)) for name in timed.failsafe
        }

    def take(self, reads: Table, passes: Table) -> None:
        for batch in self._program.take(reads, passes):
            self._see(batch)

    def finish(self) -> dict[str, FailsafeFold]:
        """The timers, by stream, all events seen."""
        for batch in self._program.finish():
            self._see(batch)
        for fold in self._folds.values():
            fold.finish()
        return self._folds

    def _see(self, batch: Batch) -> None:
        if not batch.has_only_writes:
            for fold in self._folds.values():
                fold.take(batch.events)


def trips_of(
    scenario: Scenario,
    start: int,
    engine: Engine,
    timeouts_ms: Sequence[float] = TIMEOUTS_MS,
    watch: Callable[[Flow], Flow] = lambda passing: passing,
) -> Trips:
    """Nuisance trips of one start of a scenario for each timeout; `watch` sees its rows pass."""
    passing = watch(flow(scenario, start=start, engine=engine))
    plan, backend = passing.plan, backend_for(passing.plan, passing.engine)
    timers = [_Timers(scenario, plan, timeout_ms, backend) for timeout_ms in timeouts_ms]
    reads: list[Table] = []
    passes: list[Table] = []

    def hand_over() -> None:
        if reads:
            rows = np.concatenate(reads), np.concatenate(passes)
            for timer in timers:
                timer.take(*rows)
        reads.clear()
        passes.clear()

    for chunk in passing.chunks:
        reads.append(chunk["reads"].copy())
        passes.append(chunk["passes"].copy())
        if sum(map(len, reads)) >= BATCH_ROWS:
            hand_over()
    hand_over()
    found = [timer.finish() for timer in timers]
    return Trips(
        counts={
            name: tuple(timer[name].nuisance_trips for timer in found) for name in scenario.failsafe
        },
        alive={
            name: tuple(timer[name].alive_ns / could_ns for timer in found)
            for name in scenario.failsafe
            for could_ns in [_could_be_alive_ns(plan, name)]
        },
        hours=plan.until_ns / NS_PER_HOUR,
        phases=plan.phases,
        beats=tuple(min(beats, PLENTY) for beats in seen_beats(plan)),
    )


def _could_be_alive_ns(plan: Plan, stream: str) -> int:
    """The time for which both ends of a stream are up in a start without faults; 1 at least."""
    ends = (plan.streams.index(stream), len(plan.tx))
    return max(1, plan.until_ns - max(first_boot_ns(plan.steps, unit) for unit in ends))


def trade_off_of(
    scenario: Scenario, trips: Sequence[Trips], timeouts_ms: Sequence[float] = TIMEOUTS_MS
) -> dict[str, tuple[TradeOffPoint, ...]]:
    """The curve of each stream that has a failsafe, from starts 0, 1, 2 … of its scenario."""
    shares = shares_of(0, len(trips), len(trips[0].phases.densities))
    weights = [weight_of(start.phases, shares) for start in trips]
    hours = [start.hours for start in trips]
    weighed = math.fsum(w * h for w, h in zip(weights, hours, strict=True))
    return {
        name: tuple(
            TradeOffPoint(
                timeout_ms=timeout_ms,
                nuisance_trips=sum(counts),
                nuisance_per_hour=math.fsum(w * n for w, n in zip(weights, counts, strict=True))
                / weighed,
                alive_share=math.fsum(
                    w * start.hours * start.alive[name][k]
                    for w, start in zip(weights, trips, strict=True)
                )
                / weighed,
                nuisance_per_hour_ci95=rate_over_starts(counts, hours, weights),
                worst_reaction_ms=worst_reaction_ms(with_timeout(scenario, timeout_ms), name),
            )
            for k, timeout_ms in enumerate(timeouts_ms)
            if (counts := [start.counts[name][k] for start in trips]) is not None
        )
        for name in streams_by_danger(scenario)
        if name in scenario.failsafe
    }


def longest_bound(scenario: Scenario, stream: str) -> tuple[str, Bound] | None:
    """The longest bound of a stream's outputs that react on failsafe, with the output's name.

    An output without a bound counts as the longest; None: no output reacts.
    """
    slowest = with_slowest_clock(scenario)
    plan = make_plan(slowest, 0)
    found = [
        (name, bound_of(slowest, plan, name))
        for name, output in scenario.output.items()
        if output.stream == stream and acts(scenario, name)
    ]
    lengths = [float("inf") if b.total_ns is None else b.total_ns for _, b in found]
    return found[lengths.index(max(lengths))] if found else None


def worst_reaction_ms(scenario: Scenario, stream: str) -> float | None:
    """Longest reaction when the stream's transmitter falls silent; None: no bound, no failsafe."""
    found = longest_bound(scenario, stream)
    if found is None or found[1].total_ns is None:
        return None
    return ms_from_ns(found[1].total_ns)


def feasible_range_of(
    scenario: Scenario,
    stream: str,
    curve: Sequence[TradeOffPoint],
    nuisance_per_hour: float,
    reaction_ms: float,
    hours: float,
) -> FeasibleRange:
    """Which timeouts of a stream trip seldom enough, and which react soon enough.

    `hours`: simulated time of the curve, all starts together.
    """
    shortest_ms, why_seldom = _shortest_ms(curve, nuisance_per_hour)
    longest_ms, why_soon = _longest_ms(scenario, stream, reaction_ms)
    if not why_seldom and shortest_ms is None:
        first_ms, why_seldom = _unshown(curve, nuisance_per_hour, hours, longest_ms)
        if longest_ms is not None and first_ms <= longest_ms:
            return FeasibleRange(
                shortest_ms=None, longest_ms=longest_ms, why=why_seldom, is_unshown=True
            )
        if longest_ms is not None:
            why_seldom = f"nuisance trips may stay that rare from {first_ms:g} ms on only"
            why_soon = f"reactions stay under {reaction_ms:g} ms only up to {longest_ms:g} ms"
    why = "; ".join(text for text in (why_seldom, why_soon) if text)
    if shortest_ms is not None and longest_ms is not None and shortest_ms > longest_ms:
        why = (
            f"{_from_when_text(curve, shortest_ms, nuisance_per_hour)}, "
            f"reactions stay under {reaction_ms:g} ms only up to {longest_ms:g} ms"
        )
    return FeasibleRange(shortest_ms=shortest_ms, longest_ms=longest_ms, why=why)


def if_beats_were_seen(found: FeasibleRange, trips: Sequence[Trips]) -> FeasibleRange:
    """A feasible range, withheld where two clocks beat so seldom that perhaps no start shows it."""
    seen = min(
        (math.fsum(pair) for pair in zip(*(t.beats for t in trips), strict=True)), default=math.inf
    )
    if found.shortest_ms is None or found.is_empty or seen >= BEATS_TO_HAVE_SEEN:
        return found
    hours = math.fsum(start.hours for start in trips)
    return replace(
        found,
        shortest_ms=None,
        is_unshown=True,
        why=f"two clocks of the link drift into each other about {seen:.2g} times in "
        f"{hours:.3g} h; to have seen it takes {BEATS_TO_HAVE_SEEN:g} times or more: more --hours",
    )


def _from_when_text(curve: Sequence[TradeOffPoint], shortest_ms: float, asked: float) -> str:
    """What begins with the shortest timeout: life, or few trips."""
    shorter = [point for point in curve if point.timeout_ms < shortest_ms]
    if shorter and shorter[-1].is_dead:
        last = shorter[-1]
        return (
            f"outputs are alive for most of the time from {shortest_ms:g} ms on only "
            f"({100 * last.alive_share:.3g} % at {last.timeout_ms:g} ms)"
        )
    return f"nuisance trips stay under {asked:g} an hour from {shortest_ms:g} ms on"


def _shortest_ms(curve: Sequence[TradeOffPoint], asked: float) -> tuple[float | None, str]:
    """The first timeout from which on outputs are alive and every upper limit is low enough.

    Else what is in the way; nothing where it was only not simulated for long enough.
    """
    passed = _from_the_end(
        curve,
        lambda point: (
            point.nuisance_per_hour_ci95 is not None and point.nuisance_per_hour_ci95[1] <= asked
        ),
    )
    if passed is not None:
        return passed.timeout_ms, ""
    last = curve[-1]
    if last.is_dead:
        return (
            None,
            f"even with {last.timeout_ms:g} ms outputs are alive for only "
            f"{100 * last.alive_share:.3g} % of the time",
        )
    if last.is_surely_above(asked):
        return (
            None,
            f"even {last.timeout_ms:g} ms has more nuisance trips than the {asked:g} an hour asked",
        )
    return None, ""


def _from_the_end(
    curve: Sequence[TradeOffPoint], is_good: Callable[[TradeOffPoint], bool]
) -> TradeOffPoint | None:
    """The first point from which on outputs are alive and all points are good."""
    passed = list(takewhile(lambda point: not point.is_dead and is_good(point), reversed(curve)))
    return passed[-1] if passed else None


def _unshown(
    curve: Sequence[TradeOffPoint], asked: float, hours: float, longest_ms: float | None
) -> tuple[float, str]:
    """From which timeout on trips may be rare enough, and what would show it.

    `longest_ms`: up to which timeout reactions are soon enough.
    """
    first = _from_the_end(curve, lambda point: not point.is_surely_above(asked)) or curve[-1]
    silent = _from_the_end(curve, lambda point: not point.nuisance_trips)
    if silent is not None and longest_ms is not None and silent.timeout_ms > longest_ms:
        silent = None
    if silent is not None and silent.nuisance_per_hour_ci95 is not None:
        needed = SPARE * hours * silent.nuisance_per_hour_ci95[1] / asked
        needed = math.ceil(needed) if needed > 1 else math.ceil(100 * needed) / 100
        return (
            first.timeout_ms,
            f"0 trips from {silent.timeout_ms:g} ms on in {hours:.3g} h; --hours {needed:g} would "
            f"show fewer than {asked:g} an hour",
        )
    soon = [
        point
        for point in curve
        if first.timeout_ms <= point.timeout_ms and (longest_ms or math.inf) >= point.timeout_ms
    ]
    rarest = soon[-1] if soon else first
    trips = f"{rarest.nuisance_trips} trip{'' if rarest.nuisance_trips == 1 else 's'}"
    return (
        first.timeout_ms,
        f"{trips} with {rarest.timeout_ms:g} ms in {hours:.3g} h may be under {asked:g} an hour "
        "or not; more --hours would tell",
    )


def _longest_ms(scenario: Scenario, stream: str, reaction_ms: float) -> tuple[float | None, str]:
    """The bound is the timeout and a rest, and the timeout stretches with a slow clock."""
    found = longest_bound(with_timeout(scenario, reaction_ms), stream)
    if found is None:
        return None, f"no output of {stream} reacts on failsafe"
    output, bound = found
    if bound.total_ns is None:
        return None, f"{output} has no bound: {bound.why_none}"
    term_ns = next(term.ns for term in bound.terms if term.name == TIMEOUT)
    rest_ns = sum(term.ns for term in bound.terms if term.name not in (TIMEOUT, TICK))
    # Whatever the timeout is, its clock finds it over by one tick more.
    tick_ns = scaled(ns_from_ms(scenario.receiver.clock_tick_ms), clock_width_ppb(scenario))
    left_ns = reaction_ms * NS_PER_MS - rest_ns - tick_ns
    stretch = term_ns / (reaction_ms * NS_PER_MS)
    longest_ms = int(left_ns / stretch / NS_PER_MS)
    if longest_ms < 1:
        return None, f"all but the timeout takes longer than {reaction_ms:g} ms already"
    worst_ms = worst_reaction_ms(with_timeout(scenario, longest_ms), stream)
    if worst_ms is None:
        return None, f"a pass takes longer than the {longest_ms} ms that would react soon enough"
    return float(longest_ms), ""
