"""From starts to a summary."""

import math
from collections.abc import Sequence

from radiosim.engine.plan import Plan, make_plan
from radiosim.engine.rules.timing import scaled
from radiosim.measure.figures import figures_of, start_figures
from radiosim.measure.requirements import judge, worst_of
from radiosim.measure.start import tally_start
from radiosim.measure.summary import Reaction, Summary
from radiosim.measure.tally import Pool, Range, StartTally, joined, pool_of
from radiosim.measure.thin_curves import curves_of
from radiosim.scenario import Scenario
from radiosim.trace import Trace
from radiosim.units import NS_PER_MS, ms_from_ns, ns_from_ms
from radiosim.vehicle.reaction_bound import bound_of, longest_pass_ns, with_slowest_clock
from radiosim.version import VERSION


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
    return joined(
        [pool_of(t, starts.weight(t), start_figures(scenario, t)) for t in tallies],
    )


def summary_of_pool(scenario: Scenario, pool: Pool, *, has_curves: bool = False) -> Summary:
    """The figures of all starts of a run; with `has_curves` what a page draws besides."""
    rows = pool.rows
    several, first = len(rows) > 1, rows[0].start
    made = sum(row.phases.made_for is not None for row in rows)
    seen = [sum(pair) for pair in zip(*(row.beats for row in rows), strict=True)]
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
        figures=figures_of(scenario, pool),
        worst=worst_of(pool.extremes) if several else {},
        reaction=reactions_of(scenario, make_plan(with_slowest_clock(scenario), first)),
        requirements=judge(scenario, pool.extremes, len(rows), min(seen, default=math.inf)),
        curves=curves_of(pool) if has_curves else None,
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
        cannot_work=cannot_work(scenario, plan, stream),
        blind_to=_blind_to(scenario, plan, stream),
    )


def cannot_work(scenario: Scenario, plan: Plan, stream: str) -> str:
    """Why a failsafe is looked at less often than it runs out; empty if it is not (rule F2)."""
    failsafe, pass_ns = scenario.failsafe.get(stream), longest_pass_ns(plan)
    if failsafe is None:
        return ""
    if pass_ns is None:
        return "reads can hold up a pass without end, and with it the look at the timer"
    # One clock makes both, so its error must not tell them apart.
    if pass_ns <= scaled(ns_from_ms(failsafe.timeout_ms), plan.rx.ppb):
        return ""
    return (
        f"the longest pass takes {ms_from_ns(pass_ns):.3g} ms, longer than the timeout of "
        f"{failsafe.timeout_ms:g} ms: the timer may never be seen to run out"
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
