"""One line for each fault of the scene."""

import math
from collections.abc import Iterator

from msgspec import UNSET, UnsetType
from rich.console import RenderableType

from radiosim.measure.summary import FaultFigures, OutputAtFault, Summary
from radiosim.report.terminal.parts import block, hanging
from radiosim.report.terminal.words import digits, limit, listed
from radiosim.scenario.structs.fault import INSTANT_KINDS, WITHOUT_PULSES

_REACHED = "failsafe on"


def fault_lines(summary: Summary) -> Iterator[RenderableType]:
    """What each fault was, how soon failsafe was in effect, how soon values were fresh again."""
    rows = [(f"  {_name(fault)}", _text(summary, fault)) for fault in summary.figures.faults]
    if rows:
        slowest = "" if summary.start is not None else ", in the slowest start"
        yield block(f"Faults of the scene (slowest output{slowest})", hanging(rows))


def _name(fault: FaultFigures) -> str:
    lasts = "" if fault.for_s is None else f" for {limit(fault.for_s)} s"
    is_cut_short = fault.over_ms is not None and fault.over_ms < 1000 * (fault.for_s or math.inf)
    if fault.kind == "hang" and is_cut_short:
        lasts = f", watchdog after {limit(fault.over_ms or 0.0)} ms"
    return f"{limit(fault.at_s)} s {fault.kind} {fault.unit}{lasts}"


def _text(summary: Summary, fault: FaultFigures) -> str:
    if fault.at_s >= summary.duration_s:
        return "never reached"
    parts = (_detected(summary, fault), _recovered(summary, fault))
    return "; ".join(part for part in parts if part)


def _detected(summary: Summary, fault: FaultFigures) -> str:
    by_fate: dict[str, list[str]] = {}
    for name, at in fault.outputs.items():
        by_fate.setdefault(_fate(summary, fault, name, at), []).append(name)
    reached = by_fate.pop(_REACHED, [])
    others = ", ".join(f"{fate} {listed(tuple(names))}" for fate, names in by_fate.items())
    if not reached:
        return "" if fault.kind == "power_on" else others
    slowest_ms = max(fault.outputs[name].detected_ms or 0.0 for name in reached)
    text = f"failsafe in effect after {digits(slowest_ms)} ms"
    return f"{text} on {listed(tuple(reached))}, {others}" if others else text


def _fate(summary: Summary, fault: FaultFigures, output: str, at: OutputAtFault) -> str:
    """What became of one output; the words stand before its name."""
    if at.detected_ms is not None:
        return _REACHED
    if fault.unit == "receiver" and fault.kind in WITHOUT_PULSES:
        return "no pulses meanwhile from"
    if at.action == "hold":
        return "nothing stops"
    timeouts_ms = [s.timeout_ms for s in summary.stopping.values() if output in s.bound_ms]
    is_due = any(ms is not None and ms < _lasts_ms(summary, fault) for ms in timeouts_ms)
    missed = _in_starts(summary, _undetected_starts(fault))
    return f"FAILSAFE NEVER CAME{missed} on" if is_due else f"no failsafe{missed} on"


def _undetected_starts(fault: FaultFigures) -> int | UnsetType:
    """Known only where every output has a failsafe value to wait for."""
    holds = any(at.action == "hold" for at in fault.outputs.values())
    return UNSET if holds else fault.undetected_starts


def _lasts_ms(summary: Summary, fault: FaultFigures) -> float:
    if fault.kind in INSTANT_KINDS:
        return 0.0
    left_s = summary.duration_s - fault.at_s
    if fault.over_ms is not None:
        return min(fault.over_ms, 1000 * left_s)
    return 1000 * (left_s if fault.for_s is None else min(fault.for_s, left_s))


def _recovered(summary: Summary, fault: FaultFigures) -> str:
    if fault.recovered_ms is not None:
        recovered = f"{digits(fault.recovered_ms)} ms"
        if fault.kind in INSTANT_KINDS:
            return f"fresh again after {recovered}"
        return f"fresh again {recovered} after its end"
    if fault.for_s is None and fault.over_ms is None and fault.kind not in INSTANT_KINDS:
        return "for good"
    never = tuple(name for name, at in fault.outputs.items() if at.recovered_ms is None)
    missed = _in_starts(summary, fault.unrecovered_starts)
    return f"NEVER FRESH AGAIN{missed}: {listed(never)}" if never else ""


def _in_starts(summary: Summary, starts: int | UnsetType) -> str:
    """The starts in which it never came, where that is told and they are not all."""
    is_told = isinstance(starts, int) and 0 < starts < summary.starts
    return f" in {starts} of {summary.starts} starts" if is_told else ""
