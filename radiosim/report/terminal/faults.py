"""One line for each fault of the scenario."""

import textwrap
from collections.abc import Iterator

from msgspec import UNSET, UnsetType
from rich.console import RenderableType
from rich.text import Text

from radiosim.measure.summary import FaultFigures, Summary
from radiosim.registers.fault_register import ended_by, fault_kind
from radiosim.report.terminal.aftermath import (
    Fate,
    awaited,
    fate,
    has_no_effect,
    is_bitten,
    is_for_good,
    is_reached,
    never_fresh,
    over_at_s,
)
from radiosim.report.terminal.parts import block, hanging
from radiosim.report.terminal.words import digits, limit, listed
from radiosim.scenario import Scenario

_NAME_WIDTH = 40


def fault_lines(summary: Summary, scenario: Scenario) -> Iterator[RenderableType]:
    """What each fault was, how soon failsafe was in effect, how soon values were fresh again."""
    faults = summary.figures.faults
    if not faults:
        return
    names = [_wrapped(fault_name(fault)) for fault in faults]
    rows = zip(names, (_text(summary, scenario, fault) for fault in faults), strict=True)
    width = max(len(line) for name in names for line in name.splitlines())
    note = "Silence counts from the last frame, so failsafe can come before its timeout is over."
    notes = [Text(note, style="dim")] if any(_is_early(summary, fault) for fault in faults) else []
    slowest = "" if summary.start is not None else ", in the slowest start"
    yield block(
        f"Faults of the scenario (slowest output{slowest})", hanging(rows, (width,)), *notes
    )


def fault_name(fault: FaultFigures) -> str:
    """When, what, to whom, for how long."""
    lasts = "" if fault.for_s is None else f" for {limit(fault.for_s)} s"
    if is_bitten(fault):
        lasts = f", watchdog after {limit(fault.over_ms or 0.0)} ms"
    return f"{limit(fault.at_s)} s {fault.kind} {fault.unit}{lasts}"


def fates(summary: Summary, scenario: Scenario, fault: FaultFigures) -> dict[Fate, tuple[str, ...]]:
    """Outputs by what became of them."""
    found: dict[Fate, tuple[str, ...]] = {}
    for name in fault.outputs:
        what = fate(summary, scenario, fault, name)
        found[what] = (*found.get(what, ()), name)
    return found


def fate_text(summary: Summary, fault: FaultFigures, what: Fate, names: tuple[str, ...]) -> str:
    """What became of some outputs; for failsafe also in how many starts it did not come."""
    if what in (Fate.NEVER_CAME, Fate.DID_NOT_TRIP):
        return f"{what.value}{in_starts(summary, _undetected_starts(fault))} on {listed(names)}"
    return f"{what.value} {listed(names)}"


def in_starts(summary: Summary, starts: int | UnsetType) -> str:
    """The starts in which it never came, where that is told and they are not all."""
    is_told = isinstance(starts, int) and 0 < starts < summary.starts
    return f" in {starts} of {summary.starts} starts" if is_told else ""


def _wrapped(name: str) -> str:
    return textwrap.fill(name, _NAME_WIDTH, initial_indent="  ", subsequent_indent="    ")


def _text(summary: Summary, scenario: Scenario, fault: FaultFigures) -> str:
    if not is_reached(summary, fault):
        return "never reached"
    if has_no_effect(summary, scenario, fault):
        return "no effect: it was on"
    parts = (_detected(summary, scenario, fault), _recovered(summary, scenario, fault))
    return "; ".join(part for part in parts if part)


def _detected(summary: Summary, scenario: Scenario, fault: FaultFigures) -> str:
    by_fate = fates(summary, scenario, fault)
    if ended_by(fault.kind):
        return "failsafe was on already" if Fate.WAS_ON in by_fate else ""
    reached = by_fate.pop(Fate.CAME, ())
    others = ", ".join(fate_text(summary, fault, what, names) for what, names in by_fate.items())
    if not reached:
        is_all = tuple(by_fate) == (Fate.WAS_ON,)
        return "failsafe was on already" if is_all else others
    slowest_ms = max(fault.outputs[name].reaction_ms or 0.0 for name in reached)
    text = f"{Fate.CAME.value} after {digits(slowest_ms)} ms"
    return f"{text} on {listed(reached)}, {others}" if others else text


def _undetected_starts(fault: FaultFigures) -> int | UnsetType:
    """Known only where every output has a failsafe value to wait for."""
    holds = any(at.action == "hold" for at in fault.outputs.values())
    return UNSET if holds else fault.starts_without_reaction


def _recovered(summary: Summary, scenario: Scenario, fault: FaultFigures) -> str:
    if is_for_good(fault):
        return "for good"
    fields = awaited(scenario, fault)
    waits = f" (waits for {listed(fields)} near neutral)" if fields else ""
    if fault.recovered_ms is not None:
        recovered = f"{digits(fault.recovered_ms)} ms"
        if not fault_kind(fault.kind).is_lasting:
            return f"fresh again after {recovered}{waits}"
        return f"fresh again {recovered} after its end{waits}"
    if over_at_s(summary, fault) >= summary.duration_s:
        return "not over when the start ends"
    never = never_fresh(summary, scenario, fault)
    if never:
        missed = in_starts(summary, fault.unrecovered_starts)
        return f"NEVER FRESH AGAIN{missed}: {listed(never)}{waits}"
    return f"not fresh again before the start ends{waits}" if fault.outputs else ""


def _is_early(summary: Summary, fault: FaultFigures) -> bool:
    """Whether failsafe came sooner after the fault than its timeout."""
    timeout_ms = {
        name: stopping.timeout_ms or 0.0
        for stopping in summary.stopping.values()
        for name in stopping.bound_ms
    }
    return any(
        at.reaction_ms is not None and 0 < at.reaction_ms < timeout_ms.get(name, 0.0)
        for name, at in fault.outputs.items()
    )
