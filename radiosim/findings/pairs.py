"""What findings ask about pairs of transmitters."""

from collections.abc import Iterator
from itertools import combinations

from radiosim.engine.plan import Plan, make_plan
from radiosim.engine.plan_rows import Tx
from radiosim.engine.rules.sampling import TIMER
from radiosim.engine.stratification import distance_from_multiple, window_ns
from radiosim.findings.case import Case
from radiosim.findings.suspect import Overrides
from radiosim.scenario import Scenario
from radiosim.units import NS_PER_MS, ns_from_ms

Pair = tuple[str, str]


def plan_of(case: Case) -> Plan:
    """The plan of the first start: what does not depend on the draws of a start is in it."""
    return make_plan(case.scenario, case.summary.first_start)


def pairs(scenario: Scenario) -> Iterator[Pair]:
    """Every two transmitters, in file order."""
    yield from combinations(scenario.transmitter, 2)


def both(plan: Plan, pair: Pair) -> tuple[Tx, Tx]:
    """Two transmitters as the plan has them."""
    first, second = (plan.tx[plan.streams.index(name)] for name in pair)
    return first, second


def windows_ns(plan: Plan, pair: Pair) -> int:
    """How near two schedules must come to spoil each other's frames, jitter included, ns."""
    first, second = both(plan, pair)
    return window_ns(first, second) + first.jitter_ns + second.jitter_ns


def beats_by_drift(plan: Plan, pair: Pair) -> bool:
    """Whether two timer transmitters stay in each other's air time once they meet (facts 5)."""
    first, second = both(plan, pair)
    if first.pacing != TIMER or second.pacing != TIMER:
        return False
    long_ns, short_ns = sorted((first.period_ns, second.period_ns), reverse=True)
    return distance_from_multiple(long_ns, short_ns) < windows_ns(plan, pair)


def clear_period_ms(case: Case, plan: Plan, pair: Pair) -> int | None:
    """The whole period nearest to the second transmitter's own that keeps clear of all others.

    Clear: twice the window away from every whole multiple, both ways round; None if there is
    none within half and double its period.
    """
    name = pair[1]
    own_ms = case.scenario.transmitter[name].period_ms
    if own_ms is None:
        return None
    periods = range(max(1, int(own_ms / 2)), int(2 * own_ms) + 1)
    # Of two equally near the longer: it leaves more air.
    near = sorted(periods, key=lambda period: (abs(period - own_ms), -period))
    others = [
        (plan.tx[plan.streams.index(other)].period_ns, windows_ns(plan, (other, name)))
        for other in case.scenario.transmitter
        if other != name
    ]
    for period_ms in near:
        period_ns = ns_from_ms(period_ms)
        distances = [
            (distance_from_multiple(*sorted((period_ns, other_ns), reverse=True)), window)
            for other_ns, window in others
        ]
        if all(distance >= 2 * window for distance, window in distances):
            return period_ms
    return None


def without(name: str, faults: int) -> Overrides:
    """A transmitter that is switched off at once, besides as many faults."""
    fault = f'{{at_s=0,kind="power_off",unit="{name}"}}'
    return (f"fault[{faults}]={fault}",)


def longest_gap(case: Case, pair: Pair) -> str:
    """The stream of a pair that waited longest for a value."""
    streams = case.summary.figures.stream
    return max(pair, key=lambda name: streams[name].gap_ms.max)


def other_of(pair: Pair, name: str) -> str:
    """The other of two."""
    return pair[1] if name == pair[0] else pair[0]


def ms(ns: int) -> str:
    """A span in ms, three digits."""
    return f"{ns / NS_PER_MS:.3g}"
