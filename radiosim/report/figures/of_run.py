"""The figures of a run, from its summary and the trace of its worst start."""

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from radiosim.engine.plan import Plan, plan_of
from radiosim.engine.plan_rows import STEPS
from radiosim.engine.plan_units import AIR, RECEIVER
from radiosim.engine.unit_spans import first_boot_ns, spans_without
from radiosim.measure.by_program import record_of_start
from radiosim.measure.summary import Summary
from radiosim.registers.fault_kind import PROGRAM, RADIO, VALUES
from radiosim.registers.fault_register import fault_kind
from radiosim.report.figures import beats, gaps, latency, pointing, strip
from radiosim.report.figures.strip_lanes import StripData, strip_data
from radiosim.report.spans import Span, inside, union
from radiosim.results.document import Figure
from radiosim.results.formats import list_text
from radiosim.scenario import Scenario
from radiosim.trace import Fate, Trace, value_reads
from radiosim.units import ns_from_s
from radiosim.vehicle.supply_limits import loads_of
from radiosim.vehicle.vehicle import VehicleRecord


def what_stops(scenario: Scenario, plan: Plan, stream: str, gap: Span) -> tuple[int, str] | None:
    """When the fault that makes up most of a gap of a stream begins, ns, and what it is.

    None if there is no such fault.
    """
    units = _units(plan, stream)
    found: list[tuple[int, int, str]] = []
    for fault in scenario.fault:
        kind, at_ns = fault_kind(fault.kind), ns_from_s(fault.at_s)
        if fault.unit not in units:
            continue
        steps = [step for step in plan.steps if step.unit == units[fault.unit]]
        for part in set(kind.impairs) - {VALUES}:
            for silent in spans_without((part,), steps, plan.until_ns):
                if silent[0] <= at_ns < silent[1]:
                    lasts = sum(end - start for start, end in inside([silent], [gap]))
                    unit = "the receiver" if fault.unit == RECEIVER else fault.unit
                    found.append((lasts, -at_ns, kind.caption.format(unit=unit)))
    found += _brownouts(scenario, plan, gap)
    lasts, before, words = max(found, default=(0, 0, ""))
    return (-before, words) if 2 * lasts > gap[1] - gap[0] else None


def _brownouts(scenario: Scenario, plan: Plan, gap: Span) -> Iterator[tuple[int, int, str]]:
    """How much of a gap the receiver is down for after each dip that outputs brought about."""
    steps = [step for step in plan.steps if step.unit == len(plan.tx)]
    names = tuple(loads_of(scenario))
    down = spans_without((PROGRAM, RADIO), steps, plan.until_ns) if plan.brownouts else []
    for row in plan.brownouts:
        who = [name for k, name in enumerate(names) if row.outputs >> k & 1]
        for silent in down:
            if silent[0] <= row.at_ns < silent[1]:
                lasts = sum(end - start for start, end in inside([silent], [gap]))
                yield lasts, -row.at_ns, f"the receiver browns out: {list_text(who)} draw too much"


def impaired(plan: Plan, stream: str) -> list[Span]:
    """When faults, or boots, keep a stream's values from coming over."""
    spans: list[Span] = []
    for unit in _units(plan, stream).values():
        steps = [step for step in plan.steps if step.unit == unit]
        # The air has no program: a part that no step tells of is well.
        told = {part for step in steps if (part := STEPS[step.kind].part) is not None}
        spans.extend(spans_without(told - {VALUES}, steps, plan.until_ns))
    return union(spans)


def _units(plan: Plan, stream: str) -> dict[str, int]:
    """The units that a stream's values need, by name."""
    return {stream: plan.streams.index(stream), RECEIVER: len(plan.tx), AIR: len(plan.tx) + 1}


FIRST_MS = 100.0
LEAD_MS = 5.0
BEFORE_MS, MOST_MS = 25.0, 150.0
"""How much of the time before the longest gap a close-up shows, and how much it shows in all."""
STANDS_OUT = 1.5
"""So many times longer than its stream's median a gap must be to be worth a look."""

Times = npt.NDArray[np.int64]


def figures_of_run(summary: Summary, trace: Trace) -> tuple[Figure, ...]:
    """All figures that the scenario has anything for, in the order in which a reader asks."""
    vehicle = record_of_start(trace)
    beating = beats.beats_data(trace)
    late = latency.latency_data(summary)
    pointed = pointing.pointing_data(trace, vehicle)
    return (
        gaps.figure_of(gaps.gaps_data(summary, trace.scenario)),
        strip.figure_of(_worst(trace, vehicle)),
        *(() if beating is None else (beats.figure_of(beating),)),
        *(() if late is None else (latency.figure_of(late),)),
        *(() if pointed is None else (pointing.figure_of(pointed),)),
        strip.figure_of(_first(trace, vehicle)),
    )


def figures_of_start(trace: Trace) -> Iterator[Figure]:
    """The air around the longest gap of a start, then where its periods beat, if they do."""
    yield strip.figure_of(_worst(trace, record_of_start(trace)))
    beating = beats.beats_data(trace)
    if beating is not None:
        yield beats.figure_of(beating)


def _worst(trace: Trace, vehicle: VehicleRecord) -> StripData:
    """A close-up of where the longest gap begins, of those that no fault explains if any stands
    out."""
    plan = plan_of(trace)
    gap = unexplained_gap(trace, plan) or longest_gap(trace, plan)
    name = tuple(trace.scenario.transmitter)[gap.stream]
    from_ms = max(0.0, gap.begin_ns / 1e6 - BEFORE_MS)
    to_ms = min(trace.duration_ns / 1e6, from_ms + MOST_MS, gap.end_ns / 1e6 + BEFORE_MS)
    stops = what_stops(trace.scenario, plan, name, (gap.begin_ns, gap.end_ns))
    longest = "longest gap without a fault" if gap.is_unexplained else "longest gap"
    return strip_data(
        trace,
        vehicle,
        name="worst",
        from_ms=from_ms,
        to_ms=to_ms,
        about=f"{name}'s {longest} begins",
        stops=stops[1] if stops is not None and stops[0] < to_ms * 1e6 else None,
    )


def _first(trace: Trace, vehicle: VehicleRecord) -> StripData:
    begin_ms = _first_value_ms(trace)
    return strip_data(
        trace,
        vehicle,
        name="first",
        from_ms=begin_ms,
        to_ms=min(trace.duration_ns / 1e6, begin_ms + FIRST_MS),
        about="The first 100 ms with a value",
    )


class Gap(NamedTuple):
    """A gap between two values of a stream, or before the first or after the last."""

    stream: int
    begin_ns: int
    end_ns: int
    is_unexplained: bool = False


def longest_gap(trace: Trace, plan: Plan) -> Gap:
    """The longest gap of the start."""
    found = []
    for number in range(len(trace.scenario.transmitter)):
        since_ns, gaps_ns = _gaps(trace, plan, number)
        k = int(gaps_ns.argmax())
        found.append(Gap(number, int(since_ns[k]), int(since_ns[k] + gaps_ns[k])))
    return max(found, key=lambda gap: gap.end_ns - gap.begin_ns)


def unexplained_gap(trace: Trace, plan: Plan) -> Gap | None:
    """The longest gap in which no fault and no boot has a part, if it stands out from its stream's.

    None where the scenario has no fault: the longest of all is shown then.
    """
    found: list[Gap] = []
    for number, name in enumerate(
        trace.scenario.transmitter if trace.scenario.fault or plan.brownouts else ()
    ):
        since_ns, gaps_ns = _gaps(trace, plan, number)
        is_free = np.ones(len(gaps_ns), np.bool_)
        for begin_ns, end_ns in impaired(plan, name):
            is_free &= (since_ns >= end_ns) | (since_ns + gaps_ns <= begin_ns)
        is_free &= gaps_ns > STANDS_OUT * np.median(gaps_ns)
        if is_free.any():
            k = int(np.where(is_free, gaps_ns, 0).argmax())
            found.append(Gap(number, int(since_ns[k]), int(since_ns[k] + gaps_ns[k]), True))
    return max(found, key=lambda gap: gap.end_ns - gap.begin_ns, default=None)


def _gaps(trace: Trace, plan: Plan, stream: int) -> tuple[Times, Times]:
    """When gaps between values of a stream begin, and their lengths.

    From its first sample on, and from when the receiver's program first runs.
    """
    reads = value_reads(trace, stream)
    frames = trace.frames[trace.frames["stream"] == stream]
    up_ns = first_boot_ns(plan.steps, len(plan.tx))
    first = max(up_ns, int(frames["sampled_ns"].min()) if len(frames) else 0)
    instants = np.concatenate(([first], reads["read_ns"], [trace.duration_ns])).astype(np.int64)
    return instants[:-1], np.diff(instants)


def _first_value_ms(trace: Trace) -> float:
    """A little before the first frame arrives; 0 if none does."""
    heard = trace.attempts["start_ns"][trace.attempts["fate"] == Fate.NEW]
    return max(0.0, float(heard.min()) / 1e6 - LEAD_MS) if len(heard) else 0.0
