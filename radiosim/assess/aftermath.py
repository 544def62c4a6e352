"""What a fault of the scenario led to: judged here once, and told in words."""

from collections.abc import Iterator
from typing import NamedTuple

from msgspec import UnsetType

from radiosim.measure.scripted import has_no_effect, is_for_good, is_reached, over_at_s
from radiosim.measure.summary import FaultFigures, Summary
from radiosim.measure.tally import Fate
from radiosim.registers.fault_kind import PROGRAM, RADIO, VALUES, WATCHDOG, Part
from radiosim.registers.fault_register import ended_by, fault_kind
from radiosim.results.formats import duration_text, fmt_exact, list_text
from radiosim.scenario import Scenario
from radiosim.scenario.danger import outputs_by_danger

SETTLED_S = 1.0
"""How long after its boot a unit may take until no fresh value is an alarm."""
_BLIND_WORDS: dict[Part, str] = {
    VALUES: "stale transmitter",
    PROGRAM: "transmitter silent",
    RADIO: "transmitter silent",
}
_WORDS: dict[Fate, str] = {
    Fate.NEVER_CAME: "FAILSAFE NEVER CAME{starts} on {names}",
    Fate.HELD: "nothing stops {names}{starts}",
    Fate.NO_PULSES: "no pulses meanwhile from {names}{starts}",
    Fate.CAME: "failsafe in effect after {slowest}{starts} on {names}",
    Fate.NOT_DUE: "failsafe was not due{starts} on {names}",
    Fate.WAS_ON: "failsafe was on already{starts} on {names}",
    Fate.NOT_DRIVEN: "nothing drove {names}{starts}",
    Fate.NOTHING: "no effect{starts}",
}
_BITTEN = "no pulses after the watchdog from {names}{starts}"


class Befell(NamedTuple):
    """What became of some outputs at a fault."""

    fate: Fate
    names: tuple[str, ...]
    starts: int
    """In how many starts."""


def befell(scenario: Scenario, fault: FaultFigures) -> tuple[Befell, ...]:
    """What became of the outputs that a fault can touch, the worst first; those alike together."""
    found: dict[tuple[Fate, int], list[str]] = {}
    for name in outputs_by_danger(scenario, fault.outputs):
        for fate in Fate:
            starts = fault.outputs[name].fates.get(fate.value, 0)
            if starts:
                found.setdefault((fate, starts), []).append(name)
    order = list(Fate)
    return tuple(
        Befell(fate=fate, names=tuple(names), starts=starts)
        for (fate, starts), names in sorted(found.items(), key=lambda kv: order.index(kv[0][0]))
    )


def never_came(scenario: Scenario, fault: FaultFigures) -> tuple[Befell, ...]:
    """Outputs whose failsafe was due and did not come."""
    return tuple(b for b in befell(scenario, fault) if b.fate is Fate.NEVER_CAME)


def never_fresh(summary: Summary, scenario: Scenario, fault: FaultFigures) -> tuple[str, ...]:
    """Outputs that had time to come back after the fault, and did not in every start."""
    if is_for_good(fault) or has_no_effect(summary, fault):
        return ()
    boot_s = _boot_s(scenario, fault)
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
    """Outputs that keep their last value from the fault to the end of a start."""
    is_lost = is_for_good(fault) or never_fresh(summary, scenario, fault)
    return tuple(
        name
        for name in outputs_by_danger(scenario, fault.outputs)
        if is_lost
        and fault.outputs[name].left_driven_starts
        and Fate.HELD.value in fault.outputs[name].fates
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


def _boot_s(scenario: Scenario, fault: FaultFigures) -> float:
    """How long its unit boots after a fault, if it does."""
    unit = scenario.transmitter.get(fault.unit, scenario.receiver)
    return unit.boot_s if fault_kind(fault.kind).boots_cold else unit.warm_boot_s


EARLY = "Silence counts from the last frame, so failsafe can come before its timeout is over."


def fault_name(fault: FaultFigures) -> str:
    """When, what, to whom, for how long."""
    lasts = "" if fault.for_s is None else f" for {fmt_exact(fault.for_s)} s"
    if fault.is_bitten and fault.over_ms is not None:
        lasts = f", watchdog after {duration_text(fault.over_ms)}"
    return f"{fmt_exact(fault.at_s)} s {fault.kind} {fault.unit}{lasts}"


def fault_text(summary: Summary, scenario: Scenario, fault: FaultFigures) -> str:
    """How soon failsafe was in effect, and how soon values were fresh again."""
    if not is_reached(summary, fault):
        return "never reached"
    if has_no_effect(summary, fault):
        return "no effect: it was on" if ended_by(fault.kind) else "no effect: it changed nothing"
    parts = (
        _reacted(summary, scenario, fault),
        _browned_out(summary, fault),
        _recovered(summary, scenario, fault),
    )
    return "; ".join(part for part in parts if part)


def befell_text(summary: Summary, fault: FaultFigures, what: Befell) -> str:
    """What became of some outputs, and in how many starts if those are not all."""
    is_cut = what.fate is Fate.NO_PULSES and fault.is_bitten and fault.unit == "receiver"
    slowest_ms = [fault.outputs[name].slowest_ms or 0.0 for name in what.names]
    return (_BITTEN if is_cut else _WORDS[what.fate]).format(
        starts=in_starts(summary, what.starts),
        names=list_text(what.names),
        slowest=duration_text(max(slowest_ms)),
    )


def in_starts(summary: Summary, starts: int | UnsetType) -> str:
    """The starts in which it was so, where that is known and they are not all."""
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
        at.slowest_ms is not None and at.slowest_ms < timeout_ms.get(name, 0.0)
        for name, at in fault.outputs.items()
    )


def _reacted(summary: Summary, scenario: Scenario, fault: FaultFigures) -> str:
    found = befell(scenario, fault)
    if ended_by(fault.kind):
        # What it ends had its own line; here it is of interest whether that was noticed.
        found = tuple(b for b in found if b.fate is Fate.WAS_ON)
    texts = [befell_text(summary, fault, b) for b in found]
    if len(found) == 1 and found[0].fate in (Fate.CAME, Fate.WAS_ON):
        return texts[0].removesuffix(f" on {list_text(found[0].names)}")
    return ", ".join(texts)


def _browned_out(summary: Summary, fault: FaultFigures) -> str:
    """Whether what outputs drew brought the receiver down before they had fresh values again."""
    starts = fault.starts_with_brownout
    if not isinstance(starts, int) or not starts:
        return ""
    return f"its outputs' load browned the receiver out{in_starts(summary, starts)}"


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
