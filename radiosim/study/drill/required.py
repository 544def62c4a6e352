"""Requirements that a drill judges: the worst stop of each stream."""

from collections.abc import Iterator, Mapping, Sequence

from radiosim.measure.requirements import holds
from radiosim.measure.summary import RequirementFigures
from radiosim.scenario import Scenario
from radiosim.scenario.structs.requirement import Requirement
from radiosim.study.drill.judged import acts
from radiosim.study.drill.results import DrillFigures, WorstStop


def figure_of(stream: str) -> str:
    """Path of a stream's worst stop in the results."""
    return f"worst.{stream}.reaction_ms"


def asked_reaction_ms(scenario: Scenario, stream: str) -> float | None:
    """The longest stop that the scenario's own requirements allow a stream."""
    limits = [
        requirement.at_most
        for requirement in scenario.requirement
        if requirement.figure == figure_of(stream) and requirement.at_most is not None
    ]
    return min(limits, default=None)


def worst_of(scenario: Scenario, drills: Sequence[DrillFigures]) -> dict[str, WorstStop]:
    """The longest stop of each stream's outputs, timed from the fault or from the last frame.

    Outputs that hold their last value by the scenario's own wish are left out.
    """
    found: dict[str, WorstStop] = {}
    for stream in scenario.transmitter:
        mine = [d for d in drills if d.stream == stream and d.repeats and acts(scenario, d.output)]
        if mine:
            last = max(mine, key=_moving_ms)
            driving = [d for d in mine if drives(scenario, d.output)]
            found[stream] = max((_worst(it, last, driving) for it in mine), key=_badness)
    return found


def drives(scenario: Scenario, name: str) -> bool:
    """Whether an output drives the vehicle: it has a motor; in a scenario without, it has no
    servo."""
    output = scenario.output[name]
    if any(other.motor is not None for other in scenario.output.values()):
        return output.motor is not None
    return output.servo is None


def _moving_ms(drill: DrillFigures) -> float:
    """Until when something moved, from the fault: the stop, or servo or motor standing still."""
    return max(drill.reaction_ms.max or 0.0, drill.stopping_ms.max or 0.0)


def _stop_ms(drill: DrillFigures) -> float:
    """The longest stop, from the fault or from the last frame."""
    return max(drill.reaction_ms.max or 0.0, drill.silence_ms.max or 0.0)


def _worst(drill: DrillFigures, last: DrillFigures, driving: Sequence[DrillFigures]) -> WorstStop:
    stopped_ms = [max(_moving_ms(it), _stop_ms(it)) for it in driving if not it.still_driven]
    return WorstStop(
        stopping_ms=_moving_ms(last),
        last_output=last.output,
        last_fault=f"{last.fault} {last.unit}",
        reaction_ms=None if drill.still_driven else _stop_ms(drill),
        output=drill.output,
        fault=drill.fault,
        unit=drill.unit,
        why=drill.why if drill.still_driven else "",
        carries_on=any(it.still_driven for it in driving),
        carried_ms=max((ms for ms in stopped_ms if ms), default=None),
    )


def _badness(worst: WorstStop) -> float:
    return float("inf") if worst.reaction_ms is None else worst.reaction_ms


def judged(scenario: Scenario, worst: Mapping[str, WorstStop]) -> tuple[RequirementFigures, ...]:
    """The scenario's requirements on stopping times; all others are for a run."""
    return tuple(_judged(scenario, worst))


def _judged(scenario: Scenario, worst: Mapping[str, WorstStop]) -> Iterator[RequirementFigures]:
    for stream in scenario.transmitter:
        for requirement in scenario.requirement:
            if requirement.figure == figure_of(stream):
                yield _verdict(requirement, worst.get(stream))


def _verdict(requirement: Requirement, worst: WorstStop | None) -> RequirementFigures:
    measured, ok, why = None, None, "no output of it stops on failsafe, or none was ever alive"
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
