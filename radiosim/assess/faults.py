"""What a fault of the scenario led to, in words."""

from msgspec import UNSET, UnsetType

from radiosim.assess.aftermath import (
    Fate,
    awaited,
    fates,
    has_no_effect,
    is_bitten,
    is_for_good,
    is_reached,
    never_fresh,
    over_at_s,
)
from radiosim.measure.summary import FaultFigures, Summary
from radiosim.registers.fault_register import ended_by, fault_kind
from radiosim.results.formats import duration_text, fmt_exact, list_text
from radiosim.scenario import Scenario

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
