"""What a fault of the scenario led to: judged here once, and told in words."""

from collections.abc import Iterator
from enum import Enum

from msgspec import UNSET, UnsetType

from radiosim.measure.summary import FaultFigures, Summary
from radiosim.registers.fault_kind import PROGRAM, RADIO, VALUES, WATCHDOG, Part
from radiosim.registers.fault_register import ended_by, fault_kind
from radiosim.results.formats import duration_text, fmt_exact, list_text
from radiosim.scenario import Scenario

SETTLED_S = 1.0
"""How long after its boot a unit may take until no fresh value is an alarm."""
_BLIND_WORDS: dict[Part, str] = {
    VALUES: "stale transmitter",
    PROGRAM: "transmitter silent",
    RADIO: "transmitter silent",
}


class Fate(Enum):
    """What became of one output at a fault; the words stand before its name."""

    CAME = "failsafe in effect"
    WAS_ON = "failsafe was on already on"
    NO_PULSES = "no pulses meanwhile from"
    BITTEN = "no pulses after the watchdog from"
    HELD = "nothing stops"
    NEVER_CAME = "FAILSAFE NEVER CAME"
    DID_NOT_TRIP = "failsafe did not trip"


def is_reached(summary: Summary, fault: FaultFigures) -> bool:
    """Whether a start lasts long enough for the fault to happen."""
    return fault.at_s < summary.duration_s


def is_bitten(fault: FaultFigures) -> bool:
    """Whether a watchdog ends a hang before its time."""
    if WATCHDOG not in fault_kind(fault.kind).ended_by or fault.over_ms is None:
        return False
    return fault.for_s is None or fault.over_ms < 1000 * fault.for_s


def is_for_good(fault: FaultFigures) -> bool:
    """Whether nothing ends the fault."""
    return fault.over_ms is None and fault_kind(fault.kind).is_lasting


def over_at_s(summary: Summary, fault: FaultFigures) -> float:
    """When the fault is over, or the start if that is earlier."""
    if is_for_good(fault):
        return summary.duration_s
    return min(fault.at_s + (fault.over_ms or 0.0) / 1000, summary.duration_s)


def has_no_effect(summary: Summary, scenario: Scenario, fault: FaultFigures) -> bool:
    """Whether it switches on a unit that is on."""
    ended = ended_by(fault.kind)
    if not ended or fault.at_s < _up_s(scenario, fault.unit)[0]:
        return False
    return not any(
        other.kind in ended
        and other.unit == fault.unit
        and other.at_s < fault.at_s <= over_at_s(summary, other)
        for other in summary.figures.faults
    )


def fate(summary: Summary, scenario: Scenario, fault: FaultFigures, output: str) -> Fate:
    """What became of one output that the fault can touch."""
    at = fault.outputs[output]
    if at.reaction_ms is not None:
        return Fate.CAME if at.reaction_ms else Fate.WAS_ON
    if fault.unit == "receiver" and fault_kind(fault.kind).stops_pulses:
        return Fate.NO_PULSES
    if fault.unit == "receiver" and is_bitten(fault):
        return Fate.BITTEN
    if at.action == "hold":
        return Fate.HELD
    if not _was_alive(summary, scenario, fault, output):
        return Fate.WAS_ON
    is_due = _lasts_ms(summary, fault, output) > _due_ms(summary, output)
    return Fate.NEVER_CAME if is_due else Fate.DID_NOT_TRIP


def _was_alive(summary: Summary, scenario: Scenario, fault: FaultFigures, output: str) -> bool:
    """Whether a value can have ended the failsafe with which every program starts (rule F3)."""
    stream = scenario.output[output].stream
    ready_s = sum(_up_s(scenario, stream))
    return summary.figures.stream[stream].read > 0 and ready_s < fault.at_s


def _lasts_ms(summary: Summary, fault: FaultFigures, output: str) -> float:
    """How long no value that was taken after the fault reached an output."""
    kind = fault_kind(fault.kind)
    if not kind.impairs:
        return 0.0
    if not kind.is_lasting:
        recovered_ms = fault.outputs[output].recovered_ms
        left_ms = 1000 * (summary.duration_s - fault.at_s)
        return left_ms if recovered_ms is None else recovered_ms
    return 1000 * (over_at_s(summary, fault) - fault.at_s)


def _due_ms(summary: Summary, output: str) -> float:
    """When failsafe should be in effect at the latest; never for an output without one."""
    for reaction in summary.reaction.values():
        if output in reaction.bound_ms and reaction.timeout_ms is not None:
            return reaction.bound_ms[output] or reaction.timeout_ms
    return float("inf")


def fates(summary: Summary, scenario: Scenario, fault: FaultFigures) -> dict[Fate, tuple[str, ...]]:
    """Outputs by what became of them."""
    found: dict[Fate, tuple[str, ...]] = {}
    for name in fault.outputs:
        what = fate(summary, scenario, fault, name)
        found[what] = (*found.get(what, ()), name)
    return found


def never_fresh(summary: Summary, scenario: Scenario, fault: FaultFigures) -> tuple[str, ...]:
    """Outputs that had time to come back after the fault, and did not in every start."""
    if is_for_good(fault) or has_no_effect(summary, scenario, fault):
        return ()
    _, boot_s = _up_s(scenario, fault.unit)
    if over_at_s(summary, fault) + boot_s + SETTLED_S > summary.duration_s:
        return ()
    return tuple(
        name
        for name, at in fault.outputs.items()
        if at.recovered_ms is None and summary.figures.stream[scenario.output[name].stream].read
    )


def still_driven_outputs(
    summary: Summary, scenario: Scenario, fault: FaultFigures
) -> tuple[str, ...]:
    """Outputs that keep their last value for good after the fault."""
    is_lost = is_for_good(fault) or never_fresh(summary, scenario, fault)
    return tuple(
        name
        for name, at in fault.outputs.items()
        if is_lost and at.recovered_ms is None and fate(summary, scenario, fault, name) is Fate.HELD
    )


def lacks_watchdog(scenario: Scenario, fault: FaultFigures) -> bool:
    """Whether the receiver's program hangs and nothing resets it."""
    is_hung = WATCHDOG in fault_kind(fault.kind).ended_by and fault.unit == "receiver"
    return is_hung and not scenario.receiver.watchdog_ms


def blind_spots(summary: Summary, fault: FaultFigures) -> Iterator[str]:
    """Why the failsafe of the fault's own stream cannot see it."""
    impaired = fault_kind(fault.kind).impairs
    words = {_BLIND_WORDS[part] for part in impaired if part in _BLIND_WORDS}
    reaction = summary.reaction.get(fault.unit)
    if reaction is not None:
        yield from (text for text in reaction.blind_to if any(word in text for word in words))


def awaited(scenario: Scenario, fault: FaultFigures) -> tuple[str, ...]:
    """Fields that must be near neutral before outputs of the fault come alive (rule F3)."""
    streams = dict.fromkeys(scenario.output[name].stream for name in fault.outputs)
    tables = (scenario.failsafe.get(stream) for stream in streams)
    return tuple(
        dict.fromkeys(table.resume_needs.field for table in tables if table and table.resume_needs)
    )


def _up_s(scenario: Scenario, unit: str) -> tuple[float, float]:
    """When a unit is switched on, and how long it boots, s; the receiver is there from 0."""
    transmitter = scenario.transmitter.get(unit)
    if transmitter is not None:
        return transmitter.start_s, transmitter.boot_s
    return 0.0, scenario.receiver.boot_s


EARLY = "Silence counts from the last frame, so failsafe can come before its timeout is over."


def fault_name(fault: FaultFigures) -> str:
    """When, what, to whom, for how long."""
    lasts = "" if fault.for_s is None else f" for {fmt_exact(fault.for_s)} s"
    if is_bitten(fault):
        lasts = f", watchdog after {duration_text(fault.over_ms)}"
    return f"{fmt_exact(fault.at_s)} s {fault.kind} {fault.unit}{lasts}"


def fault_text(summary: Summary, scenario: Scenario, fault: FaultFigures) -> str:
    """How soon failsafe was in effect, and how soon values were fresh again."""
    if not is_reached(summary, fault):
        return "never reached"
    if has_no_effect(summary, scenario, fault):
        return "no effect: it was on"
    parts = (_reacted(summary, scenario, fault), _recovered(summary, scenario, fault))
    return "; ".join(part for part in parts if part)


def fate_text(summary: Summary, fault: FaultFigures, what: Fate, names: tuple[str, ...]) -> str:
    """What became of some outputs; for failsafe also in how many starts it did not come."""
    if what in (Fate.NEVER_CAME, Fate.DID_NOT_TRIP):
        starts = in_starts(summary, _starts_without_reaction(fault))
        return f"{what.value}{starts} on {list_text(names)}"
    return f"{what.value} {list_text(names)}"


def in_starts(summary: Summary, starts: int | UnsetType) -> str:
    """The starts in which it never came, where that is known and they are not all."""
    is_known = isinstance(starts, int) and 0 < starts < summary.starts
    return f" in {starts} of {summary.starts} starts" if is_known else ""


def is_early(summary: Summary, fault: FaultFigures) -> bool:
    """Whether failsafe came sooner after the fault than its timeout."""
    timeout_ms = {
        name: reaction.timeout_ms or 0.0
        for reaction in summary.reaction.values()
        for name in reaction.bound_ms
    }
    return any(
        at.reaction_ms is not None and 0 < at.reaction_ms < timeout_ms.get(name, 0.0)
        for name, at in fault.outputs.items()
    )


def _reacted(summary: Summary, scenario: Scenario, fault: FaultFigures) -> str:
    by_fate = fates(summary, scenario, fault)
    if ended_by(fault.kind):
        return "failsafe was on already" if Fate.WAS_ON in by_fate else ""
    reached = by_fate.pop(Fate.CAME, ())
    others = ", ".join(fate_text(summary, fault, what, names) for what, names in by_fate.items())
    if not reached:
        is_all = tuple(by_fate) == (Fate.WAS_ON,)
        return "failsafe was on already" if is_all else others
    slowest_ms = max(fault.outputs[name].reaction_ms or 0.0 for name in reached)
    text = f"{Fate.CAME.value} after {duration_text(slowest_ms)}"
    return f"{text} on {list_text(reached)}, {others}" if others else text


def _starts_without_reaction(fault: FaultFigures) -> int | UnsetType:
    """Known only where every output has a failsafe value to wait for."""
    holds = any(at.action == "hold" for at in fault.outputs.values())
    return UNSET if holds else fault.starts_without_reaction


def _recovered(summary: Summary, scenario: Scenario, fault: FaultFigures) -> str:
    if is_for_good(fault):
        return "for good"
    fields = awaited(scenario, fault)
    waits = f" (waits for {list_text(fields)} near neutral)" if fields else ""
    if fault.recovered_ms is not None:
        recovered = duration_text(fault.recovered_ms)
        if not fault_kind(fault.kind).is_lasting:
            return f"fresh again after {recovered}{waits}"
        return f"fresh again {recovered} after its end{waits}"
    if over_at_s(summary, fault) >= summary.duration_s:
        return "not over when the start ends"
    never = never_fresh(summary, scenario, fault)
    if never:
        missed = in_starts(summary, fault.unrecovered_starts)
        return f"NEVER FRESH AGAIN{missed}: {list_text(never)}{waits}"
    return f"not fresh again before the start ends{waits}" if fault.outputs else ""
