"""From starts to a summary."""

import math
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from radiosim.engine.plan import Plan, make_plan
from radiosim.measure.figures import figures_at, figures_of, rates_at, start_figures
from radiosim.measure.histogram import EDGES, Histogram
from radiosim.measure.intervals import MISS
from radiosim.measure.requirements import judge, worst_of
from radiosim.measure.start import tally_start
from radiosim.measure.summary import Curve, Curves, Delays, OfStart, Reaction, Summary, Waits
from radiosim.measure.tally import Apart, Pool, Range, StartTally, joined, pool_of
from radiosim.scenario import Scenario
from radiosim.trace import Trace
from radiosim.units import NS_PER_MS, ms_from_ns
from radiosim.vehicle.reaction_bound import bound_of, with_slowest_clock
from radiosim.version import VERSION

MOST_POINTS = 200
"""Largest number of points of a curve."""
LOG_TOLERANCE, TOLERANCE = 0.004, 0.001
"""How far a thinned curve may be off: in powers of ten of the share, or in the share itself."""
_NOTHING = 1e-12
"""Share of a bin below which it is what rounding left over."""

Points = npt.NDArray[np.float64]


def curves_of(pool: Pool) -> Curves:
    """Curves over all starts of a run."""
    several = len(pool.rows) > 1

    def apart(path: str, *, is_log: bool) -> OfStart | None:
        found = pool.apart.get(path) if several else None
        return None if found is None else _of_start(found, is_log=is_log)

    def delays(path: str, latency: Histogram, age: Histogram) -> Delays:
        return Delays(
            latency=curve_of(latency),
            age=curve_of(age),
            worst_age=apart(f"{path}.age_ms.p99", is_log=False),
        )

    return Curves(
        waits={
            name: Waits(
                every=curve_of(tally.gap, is_log=True),
                worst=apart(f"stream.{name}.gap_ms.max", is_log=True),
            )
            for name, tally in pool.streams.items()
        },
        stream={n: delays(f"stream.{n}", t.latency, t.age) for n, t in pool.streams.items()},
        output={n: delays(f"output.{n}", t.latency, t.age) for n, t in pool.outputs.items()},
    )


def _of_start(found: Apart, *, is_log: bool) -> OfStart | None:
    curve = curve_of(found.spread, is_log=is_log)
    return None if curve is None else OfStart(start=found.start, curve=curve)


def curve_of(spread: Histogram, *, is_log: bool = False) -> Curve | None:
    """A spread as a curve of at most MOST_POINTS points over the logarithm of time.

    It is exact at the edges of bins that it keeps, and no further than a tolerance off at the
    others: a small part of the share itself if it `is_log`, for a logarithmic axis of shares.
    None if no weight lies above 1 us.
    """
    weights = np.where(spread.weights > _NOTHING * spread.weight, spread.weights, 0.0)
    weights[EDGES[:-1] > spread.highest_ns] = 0.0
    bins = np.flatnonzero(weights[1:]) + 1
    if not len(bins):
        return None
    # From the top, so that the rarest keep all their digits.
    beyond = np.append(np.cumsum(weights[::-1])[::-1], 0.0) / weights.sum()
    edges = np.unique(np.concatenate((bins, bins + 1)))
    ns = np.minimum(EDGES[edges], spread.highest_ns)
    ns[-1] = spread.highest_ns
    share = beyond[edges]
    kept = _thinned(np.log10(ns), np.log10(share[:-1]) if is_log else share[:-1], is_log=is_log)
    return Curve(
        ms=tuple(_short(value / NS_PER_MS) for value in ns[kept].tolist()),
        beyond=tuple(_short(value) for value in share[kept].tolist()),
    )


def _short(value: float) -> float:
    """Digits enough for a picture."""
    return float(f"{value:.5g}")


def _thinned(x: Points, y: Points, *, is_log: bool) -> list[int]:
    """Numbers of the points to keep: of all but the last those that are needed, and the last."""
    tolerance = LOG_TOLERANCE if is_log else TOLERANCE
    while True:
        kept = kept_points(x[:-1], y, tolerance)
        if len(kept) < MOST_POINTS:
            return [*kept, len(x) - 1]
        tolerance *= 1.5


def kept_points(x: Points, y: Points, tolerance: float) -> list[int]:
    """Numbers of points whose straight connections pass every other within a tolerance in y.

    `x` rises. From a point kept, a door of slopes that pass all points so far narrows until one
    lies outside; the one before it is then kept. The first and the last always are.
    """
    first, kept = 0, [0]
    low, high = -math.inf, math.inf
    points = list(zip(x.tolist(), y.tolist(), strict=True))
    for k, (at, value) in enumerate(points[1:], start=1):
        run, rise = at - points[first][0], value - points[first][1]
        if not low <= rise / run <= high:
            first = k - 1
            kept.append(first)
            run, rise = at - points[first][0], value - points[first][1]
            low, high = -math.inf, math.inf
        low, high = max(low, (rise - tolerance) / run), min(high, (rise + tolerance) / run)
    if len(points) > 1:
        kept.append(len(points) - 1)
    return kept


def summarise(trace: Trace, *, has_curves: bool = False) -> Summary:
    """The figures of one start; with `has_curves` what a page draws besides."""
    return summary_of(trace.scenario, [tally_start(trace)], has_curves=has_curves)


def summary_of(
    scenario: Scenario, tallies: Sequence[StartTally], *, has_curves: bool = False
) -> Summary:
    """The figures of some starts in a row of one scenario; at least one."""
    starts = Range(first=tallies[0].start, count=len(tallies))
    pool = pool_starts(scenario, starts, tallies)
    return summary_of_pool(scenario, pool, has_curves=has_curves)


def pool_starts(scenario: Scenario, starts: Range, tallies: Sequence[StartTally]) -> Pool:
    """Some of the starts of a run as one pool; `starts`: all of the run's."""
    asked = [requirement.figure for requirement in scenario.requirement]

    def figures(tally: StartTally) -> dict[str, float]:
        # A start alone is the worst by any figure: only what is judged has to be known by its path.
        is_alone = starts.count == 1
        return figures_at(scenario, tally, asked) if is_alone else start_figures(scenario, tally)

    return joined([pool_of(t, starts.weight(t), figures(t)) for t in tallies])


def summary_of_pool(
    scenario: Scenario, pool: Pool, *, has_curves: bool = False, miss: float = MISS
) -> Summary:
    """The figures of all starts of a run; with `has_curves` what a page draws besides.

    `miss`: share of intervals that may miss their figure.
    """
    rows = pool.rows
    several, first = len(rows) > 1, rows[0].start
    made = sum(row.phases.made_for is not None for row in rows)
    seen = [math.fsum(pair) for pair in zip(*(row.beats for row in rows), strict=True)]
    return Summary(
        scenario=scenario.name,
        title=scenario.title,
        seed=scenario.seed,
        start=None if several else first,
        starts=len(rows),
        first_start=first,
        starts_around_beats=made,
        duration_s=scenario.duration_s,
        version=VERSION,
        engine=" and ".join(sorted({row.engine for row in rows})),
        assumed=scenario.assumed,
        warnings=scenario.warnings,
        figures=figures_of(scenario, pool, miss),
        worst=worst_of(pool.extremes) if several else {},
        reaction=reactions_of(scenario, make_plan(with_slowest_clock(scenario), first)),
        requirements=judge(
            scenario,
            pool.extremes,
            len(rows),
            min(seen, default=math.inf),
            rates_at(scenario, pool, [asked.figure for asked in scenario.requirement]),
        ),
        curves=curves_of(pool) if has_curves else None,
        mistaken=frozenset(name for name, tally in pool.streams.items() if tally.mistaken),
    )


def reactions_of(scenario: Scenario, plan: Plan) -> dict[str, Reaction]:
    """What becomes of each stream's outputs when its transmitter goes silent (rule F6).

    A bound holds for every start if the plan is that of `with_slowest_clock`.
    """
    return {name: _reaction(scenario, plan, name) for name in scenario.transmitter}


def _reaction(scenario: Scenario, plan: Plan, stream: str) -> Reaction:
    names = [name for name, output in scenario.output.items() if output.stream == stream]
    bounds = {name: bound_of(scenario, plan, name) for name in names}
    totals = {name: bound.total_ns for name, bound in bounds.items()}
    failsafe = scenario.failsafe.get(stream)
    longest = max(bounds.values(), key=lambda b: b.total_ns or -1, default=None)
    return Reaction(
        timeout_ms=None if failsafe is None else failsafe.timeout_ms,
        terms_ms={} if longest is None else {t.name: t.ns / NS_PER_MS for t in longest.terms},
        bound_ms={n: None if ns is None else ms_from_ns(ns) for n, ns in totals.items()},
        stopping_ms=_stopping_ms(scenario, totals),
        why={name: bound.why_none for name, bound in bounds.items() if bound.why_none},
        blind_to=_blind_to(scenario, plan, stream),
    )


def _stopping_ms(scenario: Scenario, totals: dict[str, int | None]) -> dict[str, float | None]:
    """Bounds of outputs with a motor, and its way to a stop (rule G4)."""
    found: dict[str, float | None] = {}
    for name, total_ns in totals.items():
        motor = scenario.output[name].motor
        if motor is not None:
            found[name] = None if total_ns is None else ms_from_ns(total_ns) + 1000 * motor.stop_s
    return found


def _blind_to(scenario: Scenario, plan: Plan, stream: str) -> tuple[str, ...]:
    """Faults that pass this timer by (rule F6)."""
    failsafe = scenario.failsafe.get(stream)
    if failsafe is None:
        return ()
    blind = []
    if failsafe.fed_by == "any" and len(plan.tx) > 1:
        blind.append("its own transmitter silent while another sends")
    if not failsafe.watch_field:
        blind.append("a stale transmitter that repeats old values")
    if not scenario.receiver.watchdog_ms:
        blind.append("a hung receiver program (no watchdog)")
    return tuple(blind)
