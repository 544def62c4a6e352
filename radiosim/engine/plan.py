"""From a scenario, a seed and a start's number to whole numbers: all that an engine needs."""

import msgspec
from msgspec.structs import replace

from radiosim.engine import plan_rows as rows
from radiosim.engine.grids import Grid, grids_of
from radiosim.engine.once import once
from radiosim.engine.payload import Payload
from radiosim.engine.phases import phased
from radiosim.engine.plan_noise import noise_steps
from radiosim.engine.plan_rows import Rx, Step, Tx
from radiosim.engine.plan_units import (
    AIR,
    RECEIVER,
    receiver_of,
    still_receiver,
    still_transmitter,
    transmitter_of,
    unit_times,
)
from radiosim.engine.stratification import Phases
from radiosim.engine.timeline import FOREVER_NS, FaultSpan, ends_of, steps_of
from radiosim.layout import Layout
from radiosim.registers.fault_register import BROWNOUT, fault_kind
from radiosim.scenario import Scenario
from radiosim.scenario.structs.failsafe_and_fault import Fault
from radiosim.trace import BrownoutRow, Trace
from radiosim.units import ns_from_s


class Plan(msgspec.Struct, frozen=True, kw_only=True):
    """One start of a scenario, ready to run."""

    streams: tuple[str, ...]
    """Names of the transmitters, in file order."""
    tx: tuple[Tx, ...]
    rx: Rx
    steps: tuple[Step, ...]
    """Sorted by time, then by unit; those of one unit keep their order."""
    until_ns: int
    payloads: tuple[Payload, ...]
    phases: Phases
    grids: tuple[Grid, ...]
    """Beside the link's own frames."""
    brownouts: tuple[BrownoutRow, ...] = ()
    """Of the receiver, by what its outputs drew; none of the scenario's faults."""


class _Still(msgspec.Struct, frozen=True, kw_only=True):
    """What all starts of a scenario have in common."""

    streams: tuple[str, ...]
    until_ns: int
    addresses: list[bytes]
    layouts: dict[str, Layout]
    """By stream."""
    tx: dict[str, Tx]
    rx: Rx
    fault_spans: dict[str, tuple[FaultSpan, ...]]
    """By unit."""


def _still(scenario: Scenario) -> _Still:
    streams, layouts = tuple(scenario.transmitter), scenario.layouts()
    addresses = [unit.address_octets for unit in scenario.transmitter.values()]
    of_stream = {name: layouts[unit.layout] for name, unit in scenario.transmitter.items()}
    return _Still(
        streams=streams,
        until_ns=ns_from_s(scenario.duration_s),
        addresses=addresses,
        layouts=of_stream,
        tx={
            name: still_transmitter(scenario, name, of_stream[name], addresses.index(address))
            for name, address in zip(streams, addresses, strict=True)
        },
        rx=still_receiver(scenario),
        fault_spans={name: fault_spans_of(scenario, name) for name in (*streams, RECEIVER, AIR)},
    )


def make_plan(scenario: Scenario, start: int) -> Plan:
    """The plan of one start; the same for the same scenario and seed on every machine (rule T2).

    Nothing in it comes of what outputs draw: see `with_brownouts`.
    """
    still = once(scenario, "plan", lambda: _still(scenario))
    streams, until_ns = still.streams, still.until_ns
    tx = tuple(transmitter_of(scenario, start, name, still.tx[name]) for name in streams)
    rx = receiver_of(scenario, start, still.rx)
    steps = [
        step
        for name in (*streams, RECEIVER, AIR)
        for step in steps_of(unit_times(scenario, name, tx, rx), still.fault_spans[name], until_ns)
    ]
    steps = sorted(steps, key=lambda step: (step.at_ns, step.unit))
    grids = grids_of(rx, tx, steps, until_ns)
    tx, phases = phased(scenario, start, tx, rx, steps, until_ns, grids)
    if noise := tuple(noise_steps(scenario, start, still.addresses, until_ns)):
        steps = sorted([*steps, *noise], key=lambda step: (step.at_ns, step.unit))
    return Plan(
        streams=streams,
        tx=tx,
        rx=rx,
        steps=tuple(steps),
        until_ns=until_ns,
        phases=phases,
        grids=grids,
        payloads=tuple(Payload(scenario, name, still.layouts[name], start) for name in streams),
    )


def with_brownouts(scenario: Scenario, plan: Plan, brownouts: tuple[BrownoutRow, ...]) -> Plan:
    """The plan with brown-outs of the receiver besides the scenario's faults (rule E4).

    Phases stay: what a start has drawn does not depend on what comes of it.
    """
    unit = len(plan.tx)
    spans = (*fault_spans_of(scenario, RECEIVER), *_spans_of(brownouts))
    mine = steps_of(unit_times(scenario, RECEIVER, plan.tx, plan.rx), spans, plan.until_ns)
    noise = [step for step in plan.steps if step.kind == rows.NOISE_PASSES]
    steps = (*(step for step in plan.steps if step.unit != unit), *mine, *noise)
    return replace(
        plan,
        steps=tuple(sorted(steps, key=lambda step: (step.at_ns, step.unit))),
        brownouts=brownouts,
    )


def plan_of(trace: Trace) -> Plan:
    """The plan that a trace was simulated by."""
    plan = make_plan(trace.scenario, trace.start)
    if not len(trace.brownouts):
        return plan
    rows = tuple(BrownoutRow(*row) for row in trace.brownouts.tolist())
    return with_brownouts(trace.scenario, plan, rows)


def _spans_of(brownouts: tuple[BrownoutRow, ...]) -> tuple[FaultSpan, ...]:
    return tuple(
        FaultSpan(at_ns=row.at_ns, until_ns=row.until_ns, kind=BROWNOUT) for row in brownouts
    )


def fault_spans_of(scenario: Scenario, unit: str) -> tuple[FaultSpan, ...]:
    """The faults of one unit, in the order of the file; some of the air's are everybody's."""
    return tuple(
        FaultSpan(
            at_ns=ns_from_s(fault.at_s),
            until_ns=FOREVER_NS if fault.for_s is None else ns_from_s(fault.at_s + fault.for_s),
            kind=fault.kind,
        )
        for fault in scenario.fault
        if _strikes(scenario, fault, unit)
    )


class Struck(msgspec.Struct, frozen=True, kw_only=True):
    """What a fault of the scenario does to one unit in one start."""

    at_ns: int
    over_ns: int
    """When it lets go of the unit, boot apart; FOREVER_NS: never."""
    is_bitten: bool
    """A watchdog ends it."""
    is_felt: bool
    """The unit goes through other steps than without it."""


def struck_unit(fault: Fault, stream: str) -> str:
    """The unit that a fault strikes, as far as one stream sees it."""
    return stream if fault_kind(fault.kind).is_everybodys(fault.unit) else fault.unit


def struck(scenario: Scenario, plan: Plan, index: int, unit: str) -> Struck:
    """What fault number `index` of the scenario does to a unit that it strikes."""
    fault = scenario.fault[index]
    spans = fault_spans_of(scenario, unit)
    if unit == RECEIVER:
        spans = (*spans, *_spans_of(plan.brownouts))
    place = sum(_strikes(scenario, earlier, unit) for earlier in scenario.fault[:index])
    times = unit_times(scenario, unit, plan.tx, plan.rx)
    end = ends_of(times, spans)[place]
    others = (*spans[:place], *spans[place + 1 :])
    steps, steps_without = (steps_of(times, some, plan.until_ns) for some in (spans, others))
    return Struck(
        at_ns=ns_from_s(fault.at_s),
        over_ns=end.at_ns,
        is_bitten=end.is_bitten,
        is_felt=steps != steps_without,
    )


def _strikes(scenario: Scenario, fault: Fault, unit: str) -> bool:
    if fault_kind(fault.kind).is_everybodys(fault.unit):
        return unit in scenario.transmitter
    return unit == fault.unit


def has_same_crc(
    plan: Plan,
    number: int,
    first: tuple[int, int, int],
    second: tuple[int, int, int],
) -> bool:
    """Whether two frames of one packet number also have one CRC (rule D3).

    Each is (stream, values' frame, values' instant); real CRCs over real bytes.
    """
    if first[0] == second[0] and plan.payloads[first[0]].is_alike(first[1:], second[1:]):
        return True
    sums = [
        plan.payloads[stream].crc_of(number, frame, at_ns)
        for stream, frame, at_ns in (first, second)
    ]
    return sums[0] == sums[1]
