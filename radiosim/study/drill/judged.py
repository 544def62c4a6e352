"""From the points of a drill to its figures and its verdict."""

import math
from collections.abc import Sequence

from radiosim.measure.summary import Distribution
from radiosim.scenario import Scenario
from radiosim.study.drill.kinds import Drill, Effect
from radiosim.study.drill.limits import Limit
from radiosim.study.drill.observed import Fate, Point
from radiosim.study.drill.points import needs_power_cycle
from radiosim.study.drill.results import FAILED, HELD, OK, SHORT, UNTRIED, BoundTerm, DrillFigures
from radiosim.units import ms_from_ns

NOT_SET_UP_AGAIN = "nothing but a power-on sets the radio up again (recheck_ms)"


def figures_of(
    scenario: Scenario, drill: Drill, name: str, limit: Limit, points: Sequence[Point]
) -> DrillFigures:
    """One output at one drill."""
    output = scenario.output[name]
    tried = [point for point in points if point.fate is not Fate.WAS_ON]
    alive = [point for point in tried if point.fate is Fate.ALIVE]
    verdict, why = _verdict(scenario, drill, name, limit, tried)
    unrecovered = sum(point.recovered_ns < 0 for point in tried)
    total_ns = limit.bound.total_ns
    return DrillFigures(
        fault=drill.kind,
        unit=drill.unit,
        stream=output.stream,
        output=name,
        words=drill.words,
        repeats=len(tried),
        bound_ms=None if total_ns is None else ms_from_ns(total_ns),
        reachable_ms=None if limit.reachable_ns is None else ms_from_ns(limit.reachable_ns),
        terms=()
        if total_ns is None
        else tuple(BoundTerm(name=it.name, ms=ms_from_ns(it.ns)) for it in limit.bound.terms),
        silence_ms=spread_of([point.silence_ns for point in tried]),
        reaction_ms=spread_of([point.stop_ns for point in tried]),
        stopping_ms=spread_of([point.standstill_ns for point in tried]),
        recovered_ms=spread_of([point.recovered_ns for point in tried]),
        unrecovered=unrecovered,
        why_unrecovered=_why_unrecovered(scenario, drill) if unrecovered == len(tried) > 0 else "",
        still_driven=bool(alive),
        still_driven_repeats=len(alive),
        verdict=verdict,
        why=why,
    )


def _why_unrecovered(scenario: Scenario, drill: Drill) -> str:
    if needs_power_cycle(scenario, drill):
        return NOT_SET_UP_AGAIN
    return "no fresh value came before the next fault"


def spread_of(times_ns: Sequence[int]) -> Distribution:
    """Spread of times in ms; those below 0 never came. Quantiles are times that were seen."""
    seen = sorted(ms_from_ns(time_ns) for time_ns in times_ns if time_ns >= 0)
    if not seen:
        return Distribution(mean=None, median=None, p95=None, p99=None, max=None, n=0)
    return Distribution(
        mean=math.fsum(seen) / len(seen),
        median=_quantile(seen, 0.5),
        p95=_quantile(seen, 0.95),
        p99=_quantile(seen, 0.99),
        max=seen[-1],
        n=len(seen),
    )


def _quantile(seen: Sequence[float], share: float) -> float:
    return seen[max(0, math.ceil(share * len(seen)) - 1)]


def _verdict(
    scenario: Scenario, drill: Drill, name: str, limit: Limit, tried: Sequence[Point]
) -> tuple[str, str]:
    if not tried:
        return UNTRIED, "it was never alive when a fault struck"
    alive = sum(point.fate is Fate.ALIVE for point in tried)
    bound_ns = limit.bound.total_ns
    late_ns = max(point.silence_ns for point in tried)
    if alive:
        is_meant = acts(scenario, name)
        return FAILED if is_meant else HELD, _why_alive(scenario, drill, name, limit, alive, tried)
    if bound_ns is not None and late_ns > bound_ns:
        text = f"{ms_from_ns(late_ns):.4g} ms is past the bound of {ms_from_ns(bound_ns):.4g} ms"
        return FAILED, text
    if all(point.fate is Fate.HELD for point in tried):
        return HELD, limit.bound.why_none or "it holds its last value"
    if all(point.fate in (Fate.SHORT, Fate.HELD) for point in tried):
        return SHORT, _why_short(scenario, drill, name)
    return OK, ""


def acts(scenario: Scenario, name: str) -> bool:
    """Whether an output must stop on failsafe: it is not told to hold its last value.

    One whose stream has no failsafe at all must too: that nothing stops it was nobody's choice.
    """
    output = scenario.output[name]
    return output.stream not in scenario.failsafe or output.on_failsafe != "hold"


def _why_alive(
    scenario: Scenario,
    drill: Drill,
    name: str,
    limit: Limit,
    alive: int,
    tried: Sequence[Point],
) -> str:
    """The cause, as the scenario gives it; in how many points where it is not all of them."""
    why = limit.bound.why_none or "failsafe did not come within its bound"
    stream = scenario.output[name].stream
    failsafe = scenario.failsafe.get(stream)
    if failsafe is not None and failsafe.fed_by == "any" and drill.effect is Effect.SILENCE:
        others = [other for other in scenario.transmitter if other != stream]
        why = (
            f"another stream ({', '.join(others)}) feeds {stream}'s timer: "
            f"failsafe.{stream}.fed_by is any"
        )
    return why if alive == len(tried) else f"at {alive} of {len(tried)} points: {why}"


def _why_short(scenario: Scenario, drill: Drill, name: str) -> str:
    if drill.effect is Effect.NO_PULSES:
        motor = scenario.output[name].motor
        if motor is not None and motor.signal_loss_ms > 0:
            return f"pulses are back within its controller's {motor.signal_loss_ms:g} ms"
        return "over at once"
    return "it is back before failsafe is due"
