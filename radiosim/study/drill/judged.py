"""From the points of a drill to its figures, verdicts, and demands that are not kept."""

import math
from collections.abc import Iterator, Mapping, Sequence

from radiosim.measure.requirements import holds
from radiosim.measure.summary import Distribution, RequirementFigures
from radiosim.registers.fault_kind import Effect
from radiosim.scenario import Scenario
from radiosim.scenario.danger import danger_of, streams_by_danger
from radiosim.scenario.structs.failsafe_and_fault import Requirement
from radiosim.study.drill.drill_kinds import Drill, Limit
from radiosim.study.drill.observed import Fate, Point
from radiosim.study.drill.points import needs_power_cycle
from radiosim.study.drill.results import (
    FAILS,
    HOLDS,
    KEEPS,
    SHORT,
    UNTRIED,
    BoundTerm,
    DrillFigures,
    StreamBound,
    TradeOffPoint,
    Verdict,
    Violation,
    WorstReaction,
)
from radiosim.units import ms_from_ns, ns_from_ms

COUNTED_MS = 1.0
"""The step of a clock that most programs count by (common practice, no source)."""
_SILENT = (Effect.SILENCE, Effect.FEW)
NOT_SET_UP_AGAIN = "nothing but a power-on sets the radio up again (recheck_ms)"


def figures_of(
    scenario: Scenario, drill: Drill, name: str, limit: Limit, points: Sequence[Point]
) -> DrillFigures:
    """One output at one drill."""
    output = scenario.output[name]
    tried = [point for point in points if point.fate is not Fate.WAS_ON]
    alive = [point for point in tried if point.fate in (Fate.ALIVE, Fate.REVIVED)]
    verdict, why = _verdict(scenario, drill, name, limit, tried)
    unrecovered = sum(point.recovered_ns < 0 for point in tried)
    total_ns = limit.bound.total_ns
    return DrillFigures(
        fault=drill.told_as,
        unit=drill.unit,
        stream=output.stream,
        output=name,
        danger=danger_of(name, output),
        words=drill.words,
        repeats=len(tried),
        bound_ms=None if total_ns is None else ms_from_ns(total_ns),
        reachable_ms=None if limit.reachable_ns is None else ms_from_ns(limit.reachable_ns),
        terms=()
        if total_ns is None
        else tuple(BoundTerm(name=term.name, ms=ms_from_ns(term.ns)) for term in limit.bound.terms),
        silence_ms=spread_of([point.silence_ns for point in tried]),
        reaction_ms=spread_of([point.reaction_ns for point in tried]),
        stopping_ms=spread_of([point.stopping_ns for point in tried]),
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
) -> tuple[Verdict, str]:
    if not tried:
        return UNTRIED, "it was never alive when a fault struck"
    alive = sum(point.fate in (Fate.ALIVE, Fate.REVIVED) for point in tried)
    bound_ns = limit.bound.total_ns
    late_ns = max(point.silence_ns for point in tried)
    if alive:
        is_revived = any(point.fate is Fate.REVIVED for point in tried)
        why = (
            _why_revived(scenario, name) if is_revived else _why_alive(scenario, drill, name, limit)
        )
        return FAILS if is_revived or acts(scenario, name) else KEEPS, why
    if bound_ns is not None and late_ns > bound_ns:
        text = f"{ms_from_ns(late_ns):.4g} ms is past the bound of {ms_from_ns(bound_ns):.4g} ms"
        return FAILS, text + _of_clock(scenario, late_ns - bound_ns)
    fates = {point.fate for point in tried}
    if fates <= {Fate.SHORT, Fate.HELD}:
        return _not_due(scenario, drill, name, fates)
    if bound_ns is None:
        return FAILS, f"it stopped at every fault, but nothing bounds when: {limit.bound.why_none}"
    return HOLDS, ""


def _of_clock(scenario: Scenario, late_ns: int) -> str:
    """What to say where a program that counts milliseconds may be late by no more than one."""
    is_finer = scenario.receiver.clock_tick_ms < COUNTED_MS
    if scenario.receiver.program is None or not is_finer or late_ns > ns_from_ms(COUNTED_MS):
        return ""
    return (
        f"; if the program's clock counts in steps of {COUNTED_MS:g} ms, set "
        f"receiver.clock_tick_ms = {COUNTED_MS:g}, and the bound grows by that"
    )


def _not_due(scenario: Scenario, drill: Drill, name: str, fates: set[Fate]) -> tuple[Verdict, str]:
    """Of an output that nothing had to stop: it holds its value, or the fault was too short."""
    if fates == {Fate.HELD}:
        return KEEPS, "on_failsafe is hold"
    return SHORT, _why_short(scenario, drill, name)


def acts(scenario: Scenario, name: str) -> bool:
    """Whether an output must react on failsafe: it is not told to hold its last value.

    One whose stream has no failsafe at all must too: that it goes on was nobody's choice.
    """
    output = scenario.output[name]
    return output.stream not in scenario.failsafe or output.on_failsafe != "hold"


def _why_alive(
    scenario: Scenario,
    drill: Drill,
    name: str,
    limit: Limit,
) -> str:
    """The cause, as the scenario gives it."""
    why = limit.bound.why_none or "failsafe did not come within its bound"
    stream = scenario.output[name].stream
    failsafe = scenario.failsafe.get(stream)
    if failsafe is not None and failsafe.fed_by == "any" and drill.effect in _SILENT:
        others = [other for other in scenario.transmitter if other != stream]
        why = (
            f"another stream ({', '.join(others)}) feeds {stream}'s timer: "
            f"failsafe.{stream}.fed_by is any"
        )
    return why


def _why_revived(scenario: Scenario, name: str) -> str:
    """What its program must have counted."""
    stream = scenario.output[name].stream
    needed = scenario.failsafe[stream].resume_frames
    return (
        f"it follows again before {needed} frames in a row (failsafe.{stream}.resume_frames): "
        "those before a gap count on"
    )


def _why_short(scenario: Scenario, drill: Drill, name: str) -> str:
    if drill.effect is Effect.NO_PULSES:
        motor = scenario.output[name].motor
        if motor is not None and motor.signal_loss_ms > 0:
            return f"pulses are back within its controller's {motor.signal_loss_ms:g} ms"
        return "over at once"
    return "it is back before failsafe is due"


def figure_of(stream: str) -> str:
    """Path of a stream's worst reaction in the results."""
    return f"worst.{stream}.reaction_ms"


def asked_reaction_ms(scenario: Scenario, stream: str) -> float | None:
    """The longest reaction that the scenario's own requirements allow a stream."""
    limits = [
        requirement.at_most
        for requirement in scenario.requirement
        if requirement.figure == figure_of(stream) and requirement.at_most is not None
    ]
    return min(limits, default=None)


def worst_of(scenario: Scenario, drills: Sequence[DrillFigures]) -> dict[str, WorstReaction]:
    """The longest reaction of each stream's outputs, timed from the fault or from the last frame.

    Outputs that hold their last value by the scenario's own wish are left out.
    """
    found: dict[str, WorstReaction] = {}
    for stream in streams_by_danger(scenario):
        mine = [d for d in drills if d.stream == stream and d.repeats and acts(scenario, d.output)]
        if mine:
            last = max(mine, key=_moving_ms)
            driving = [d for d in mine if drives(scenario, d.output)]
            found[stream] = max((_worst(drill, last, driving) for drill in mine), key=_badness)
    return found


def drives(scenario: Scenario, name: str) -> bool:
    """Whether an output may drive the vehicle: it has a motor; in a scenario without, it is no
    servo and no switch."""
    output = scenario.output[name]
    if any(other.motor is not None for other in scenario.output.values()):
        return output.motor is not None
    return output.servo is None and output.kind != "pin"


def _moving_ms(drill: DrillFigures) -> float:
    """Until when something moved, from the fault: the reaction, or a servo or motor at rest."""
    return max(drill.reaction_ms.max or 0.0, drill.stopping_ms.max or 0.0)


def _reaction_ms(drill: DrillFigures) -> float:
    """The longest reaction, from the fault or from the last frame."""
    return max(drill.reaction_ms.max or 0.0, drill.silence_ms.max or 0.0)


def _worst(
    drill: DrillFigures, last: DrillFigures, driving: Sequence[DrillFigures]
) -> WorstReaction:
    stopped_ms = [
        max(_moving_ms(entry), _reaction_ms(entry)) for entry in driving if not entry.still_driven
    ]
    return WorstReaction(
        stopping_ms=_moving_ms(last),
        last_output=last.output,
        last_fault=f"{last.fault} {last.unit}",
        reaction_ms=None if drill.still_driven else _reaction_ms(drill),
        output=drill.output,
        fault=drill.fault,
        unit=drill.unit,
        why=drill.why if drill.still_driven else "",
        carries_on=any(entry.still_driven for entry in driving),
        carried_ms=max((ms for ms in stopped_ms if ms), default=None),
    )


def _badness(worst: WorstReaction) -> float:
    return float("inf") if worst.reaction_ms is None else worst.reaction_ms


def judged_requirements(
    scenario: Scenario, worst: Mapping[str, WorstReaction]
) -> tuple[RequirementFigures, ...]:
    """The scenario's requirements on reaction times; all others are for a run."""
    return tuple(_judged(scenario, worst))


def _judged(scenario: Scenario, worst: Mapping[str, WorstReaction]) -> Iterator[RequirementFigures]:
    for stream in streams_by_danger(scenario):
        for requirement in scenario.requirement:
            if requirement.figure == figure_of(stream):
                yield _requirement_verdict(requirement, worst.get(stream))


def _requirement_verdict(
    requirement: Requirement, worst: WorstReaction | None
) -> RequirementFigures:
    measured, ok, why = None, None, "no output of it reacts on failsafe, or none was ever alive"
    if worst is not None:
        measured, why = worst.reaction_ms, ""
        ok = measured is not None and holds(measured, requirement)
        if not ok:
            what = f"{worst.output} at {worst.fault} {worst.unit}"
            why = f"{what}: {worst.why}" if worst.why else what
    return RequirementFigures(
        figure=requirement.figure,
        at_least=requirement.at_least,
        at_most=requirement.at_most,
        measured=measured,
        ok=ok,
        why=why,
    )


def reaction_violations(
    reaction_ms: float | None,
    timeout_ms: Mapping[str, float],
    bound: Mapping[str, StreamBound],
    worst: Mapping[str, WorstReaction],
) -> Iterator[Violation]:
    """Streams whose longest reaction, bounded or drilled, is past what was asked (None: nothing).

    A stream whose outputs all hold their last value by the scenario's own wish has no reaction.
    """
    if reaction_ms is None:
        return
    for name, of in bound.items():
        now_ms = timeout_ms.get(name)
        if of.output and (of.total_ms is None or of.total_ms > reaction_ms):
            yield Violation(
                stream=name,
                figure="reaction_ms",
                asked=reaction_ms,
                found=of.total_ms,
                timeout_ms=now_ms,
                where=of.output,
                why=of.why,
            )
        elif name in worst and (worst[name].reaction_ms or 0.0) > reaction_ms:
            drilled = worst[name]
            yield Violation(
                stream=name,
                figure="reaction_ms",
                asked=reaction_ms,
                found=drilled.reaction_ms,
                timeout_ms=now_ms,
                where=f"{drilled.output} at {drilled.fault} {drilled.unit}",
                why="",
                is_drilled=True,
            )


def trip_violations(
    nuisance_per_hour: float | None,
    timeout_ms: Mapping[str, float],
    trade_off: Mapping[str, Sequence[TradeOffPoint]],
) -> Iterator[Violation]:
    """Streams that surely trip without a fault more often than was asked; None: nothing was."""
    if nuisance_per_hour is None:
        return
    for name, curve in trade_off.items():
        point = next(point for point in curve if point.timeout_ms == timeout_ms[name])
        interval = point.nuisance_per_hour_ci95
        if interval is not None and interval[0] > nuisance_per_hour:
            yield Violation(
                stream=name,
                figure="nuisance_per_hour",
                asked=nuisance_per_hour,
                found=interval[0],
                timeout_ms=point.timeout_ms,
                where="",
                why="",
            )
