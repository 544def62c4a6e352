"""What every fault of one start led to, output by output."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import IntEnum
from typing import TYPE_CHECKING

import numpy as np

from radiosim.engine.jit import backend_for
from radiosim.engine.plan import Plan
from radiosim.engine.plan_units import AIR, RECEIVER
from radiosim.engine.simulate import Engine, flow_of
from radiosim.engine.unit_spans import impaired_spans
from radiosim.measure.by_program import own_vehicle
from radiosim.measure.of_output import NEVER
from radiosim.registers.fault_kind import Effect
from radiosim.scenario import Scenario
from radiosim.scenario.structs.output_table import Output, Preset
from radiosim.study.drill.drill_kinds import Drill, feeders
from radiosim.study.drill.points import Strike
from radiosim.trace import DTYPES, Table
from radiosim.units import NS_PER_S, ns_from_ms, ns_from_s
from radiosim.vehicle.feedback import flow, simulate
from radiosim.vehicle.fold.program_state import FAILSAFE, STARTED, STOPPED, WRITTEN
from radiosim.vehicle.vehicle import OutputCollector, OutputRecord, Vehicle

if TYPE_CHECKING:
    from radiosim.firmware.own_vehicle import OwnVehicle

_NOT_MOVED_DEG = 1e-9


Span = tuple[int, int]
"""From when to when, ns."""


class Fate(IntEnum):
    """What became of an output at one fault."""

    STOPPED = 0
    """Its failsafe value came into effect, or its pulses ended for good."""
    HELD = 1
    """Failsafe came on, and it holds its last value."""
    ALIVE = 2
    """The output was still alive when that had to be over."""
    SHORT = 3
    """The fault was over before anything was due."""
    WAS_ON = 4
    """It was not alive when the fault struck: the point says nothing."""
    REVIVED = 5
    """It came alive again before frames enough had come in a row."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """One output at one fault; times in ns, −1: it never came."""

    start: int
    at_ns: int
    fate: Fate
    reaction_ns: int
    """From the fault until the failsafe value was in effect."""
    silence_ns: int
    """The same from the end of the last frame that arrived (rule F6)."""
    stopping_ns: int
    """From the fault until servo or motor stood still."""
    recovered_ns: int
    """From the end of the fault until a value taken after it was in effect."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Course:
    """One start with its faults, as far as drills look at it."""

    scenario: Scenario
    plan: Plan
    start: int
    arrived: Mapping[str, Table]
    """By stream: the frames that the receiver took in (rows of `reads`)."""
    outputs: Mapping[str, OutputRecord]


def course_of(scenario: Scenario, start: int, engine: Engine) -> Course:
    """Simulate one start; its outputs are by the program that the scenario names, if it does."""
    vehicle: Vehicle | OwnVehicle
    if scenario.receiver.program is None:
        passing = flow(scenario, start=start, engine=engine)
        plan = passing.plan
        vehicle = Vehicle(scenario, plan, start, backend_for(plan, passing.engine))
    else:
        trace = simulate(scenario, start=start, engine=engine)
        passing, vehicle = flow_of(trace), own_vehicle(trace)
        plan = passing.plan
    arrived = [np.zeros(0, DTYPES["reads"])]
    outputs = OutputCollector(scenario.output)
    for chunk in passing.chunks:
        arrived.append(chunk["reads"].copy())
        for act in vehicle.take(chunk["reads"], chunk["passes"]):
            outputs.take(act)
    for act in vehicle.finish():
        outputs.take(act)
    taken = np.concatenate(arrived)
    return Course(
        scenario=scenario,
        plan=plan,
        start=start,
        arrived={name: taken[taken["stream"] == i] for i, name in enumerate(plan.streams)},
        outputs=outputs.records(),
    )


def observed(
    course: Course, drill: Drill, strikes: Sequence[Strike], due_ns: Mapping[str, int | None]
) -> dict[str, tuple[Point, ...]]:
    """What each output of the struck streams did at each fault.

    `due_ns`: by output, when it must be on failsafe at the latest, counted from the last frame.
    """
    scenario = course.scenario
    return {
        name: tuple(_point(course, drill, name, strike, due_ns[name]) for strike in strikes)
        for name, output in scenario.output.items()
        if output.stream in drill.streams(scenario)
    }


def _point(course: Course, drill: Drill, name: str, strike: Strike, due_ns: int | None) -> Point:
    output, output_log = course.scenario.output[name], course.outputs[name]
    over_ns = _over_ns(course, drill, output.stream, strike)
    until_ns = min(over_ns, strike.until_ns)
    found = _last_told(output_log.told, until_ns)
    last_ns = _last_frame_ns(course, drill, output.stream, strike, until_ns)
    reaction_ns, fate = NEVER, Fate.WAS_ON
    if _is_alive(output_log.told, strike.at_ns):
        before = _last_told(output_log.told, strike.at_ns)
        fate, reaction_ns = _fate(output, output_log, before, found, until_ns)
        if fate is Fate.ALIVE and not _is_due(strike, until_ns, last_ns, due_ns):
            fate = Fate.SHORT
        if fate in (Fate.STOPPED, Fate.HELD) and _is_revived(course, name, strike):
            fate = Fate.REVIVED
    return Point(
        start=course.start,
        at_ns=strike.at_ns,
        fate=fate,
        reaction_ns=reaction_ns - strike.at_ns if reaction_ns != NEVER else NEVER,
        silence_ns=reaction_ns - last_ns if reaction_ns != NEVER else NEVER,
        stopping_ns=_still_ns(output, output_log, reaction_ns, until_ns, strike.at_ns),
        recovered_ns=_recovered_ns(output_log, strike) if fate is not Fate.WAS_ON else NEVER,
    )


def _is_revived(course: Course, name: str, strike: Strike) -> bool:
    """Whether it follows frames again of which fewer came in a row than must (rule F3).

    More than were to come can: those that a transmitter kept waiting.
    """
    if not strike.returns:
        return False
    stream, told = course.scenario.output[name].stream, course.outputs[name].told
    written_ns = told["at_ns"][told["kind"] == WRITTEN]
    needed = course.scenario.failsafe[stream].resume_frames
    gone_ns = [since_ns for since_ns, _ in strike.returns[1:]]
    for (since_ns, _), until_ns in zip(strike.returns, (*gone_ns, strike.until_ns), strict=True):
        came = sum(
            int(np.diff(np.searchsorted(course.arrived[feeder]["accepted_ns"], span))[0])
            for feeder in feeders(course.scenario, stream)
            for span in [(since_ns, until_ns)]
        )
        if came < needed and np.diff(np.searchsorted(written_ns, (since_ns, until_ns)))[0]:
            return True
    return False


def _over_ns(course: Course, drill: Drill, stream: str, strike: Strike) -> int:
    """When the struck unit is as it should be again, by itself or at the drill's end."""
    plan = course.plan
    receiver = len(plan.tx)
    unit = receiver if drill.unit in (RECEIVER, AIR) else plan.streams.index(stream)
    steps = [s for s in plan.steps if s.unit == unit or (s.unit > unit == receiver)]
    for since_ns, until_ns in impaired_spans(steps, plan.until_ns):
        if since_ns == strike.at_ns:
            return until_ns
    # It could not have the fault: nothing lasted.
    return strike.at_ns


def _last_frame_ns(course: Course, drill: Drill, stream: str, strike: Strike, until_ns: int) -> int:
    """End of the last frame that arrived and fed the timer; the fault itself if none did."""
    if drill.effect in (Effect.NO_PULSES, Effect.STANDSTILL):
        return strike.at_ns
    found = (
        _fed_ns(course.arrived[feeder], until_ns, drill.effect is Effect.REPEATS)
        for feeder in feeders(course.scenario, stream)
    )
    fed_ns = max((at_ns for at_ns in found if at_ns is not None), default=None)
    # A frame stands in the FIFO an interrupt after its end (rule D4).
    return strike.at_ns if fed_ns is None else fed_ns - course.plan.rx.interrupt_ns


def _fed_ns(arrived: Table, until_ns: int, needs_change: bool) -> int | None:
    """When the last frame arrived, or the last whose values were not those of the one before."""
    rows = arrived[: int(np.searchsorted(arrived["accepted_ns"], until_ns))]
    if needs_change:
        rows = rows[1:][np.diff(rows["values_frame"]) != 0]
    return int(rows["accepted_ns"][-1]) if len(rows) else None


def _last_told(told: Table, at_ns: int) -> int:
    """What was told last before an instant; −1: nothing."""
    return int(np.searchsorted(told["at_ns"], at_ns)) - 1


def _is_alive(told: Table, at_ns: int) -> bool:
    """Whether an output follows its stream at an instant."""
    before = _last_told(told, at_ns)
    return before >= 0 and bool(told["kind"][before] == WRITTEN)


def _fate(
    output: Output, output_log: OutputRecord, before: int, found: int, until_ns: int
) -> tuple[Fate, int]:
    """What it does as the fault ends, and since when."""
    told = output_log.told
    kind = int(told["kind"][found])
    if kind == FAILSAFE:
        if output.on_failsafe == "hold":
            return Fate.HELD, NEVER
        if isinstance(output.on_failsafe, Preset):
            first = int(np.searchsorted(output_log.effects["entry"], found))
            is_there = (
                first < len(output_log.effects) and output_log.effects["entry"][first] == found
            )
            if not is_there:
                return Fate.ALIVE, NEVER
            return Fate.STOPPED, int(output_log.effects["end_ns"][first])
        return Fate.STOPPED, _off_ns(output, output_log, found)
    if kind in (STARTED, STOPPED):
        stops = before + np.flatnonzero(told["kind"][before : found + 1] == STOPPED)
        off_ns = _off_ns(output, output_log, int(stops[0]))
        # Shorter than its controller waits: the motor never noticed.
        return (Fate.STOPPED, off_ns) if off_ns <= until_ns else (Fate.SHORT, NEVER)
    return Fate.ALIVE, NEVER


def _off_ns(output: Output, output_log: OutputRecord, entry: int) -> int:
    """When an output that ends its pulses is off: its last pulse over, its controller in doubt."""
    told_ns = int(output_log.told["at_ns"][entry])
    loss_ns = 0 if output.motor is None else ns_from_ms(output.motor.signal_loss_ms)
    if output.kind != "servo":
        return told_ns + loss_ns
    first = int(np.searchsorted(output_log.effects["entry"], entry))
    live = np.flatnonzero(~np.isnan(output_log.effects["level"][:first]))
    last_ns = int(output_log.effects["end_ns"][live[-1]]) if len(live) else told_ns
    return max(told_ns, last_ns) + loss_ns


def _is_due(strike: Strike, until_ns: int, last_ns: int, due_ns: int | None) -> bool:
    """Whether the fault lasted so long that failsafe had to be in effect."""
    return until_ns - last_ns > due_ns if due_ns is not None else until_ns >= strike.until_ns


def _still_ns(
    output: Output, output_log: OutputRecord, reaction_ns: int, until_ns: int, at_ns: int
) -> int:
    """From the fault until the motor, or the servo on its way to its place, stands still (G4)."""
    if reaction_ns == NEVER:
        return NEVER
    if output.motor is not None:
        return reaction_ns + ns_from_s(output.motor.stop_s) - at_ns
    if output.servo is None or not isinstance(output.on_failsafe, Preset):
        return NEVER
    ends_ns, angles = output_log.effects["end_ns"], output_log.effects["angle"]
    first, last = np.searchsorted(ends_ns, (reaction_ns, until_ns))
    if last - first < 1:
        return NEVER
    there = float(angles[last - 1])
    moving = first + np.flatnonzero(np.abs(angles[first:last] - there) > _NOT_MOVED_DEG)
    if not len(moving):
        return reaction_ns - at_ns
    left_deg = abs(there - float(angles[moving[-1]]))
    turn_ns = round(left_deg * output.servo.seconds_per_60deg / 60 * NS_PER_S)
    return int(ends_ns[moving[-1]]) + turn_ns - at_ns


def _recovered_ns(output_log: OutputRecord, strike: Strike) -> int:
    """From the end of the fault, boot included, to the first value taken after it."""
    if strike.over_ns == NEVER:
        return NEVER
    effects = output_log.effects
    first, last = np.searchsorted(effects["end_ns"], (strike.over_ns, strike.next_ns))
    window = effects[first:last]
    after = np.flatnonzero((window["is_fresh"] == 1) & (window["values_ns"] >= strike.over_ns))
    return int(window["end_ns"][after[0]]) - strike.over_ns if len(after) else NEVER


def alive_others(course: Course, drill: Drill, strikes: Sequence[Strike]) -> dict[str, int]:
    """At how many faults outputs of streams that the drill does not strike were alive."""
    struck = drill.streams(course.scenario)
    return {
        name: sum(_is_alive(course.outputs[name].told, strike.at_ns) for strike in strikes)
        for name, output in course.scenario.output.items()
        if output.stream not in struck
    }


def unprovoked(course: Course, drill: Drill, spans_ns: Sequence[Span]) -> dict[str, int]:
    """How often outputs of streams that the drill does not strike stopped in some spans."""
    struck = drill.streams(course.scenario)
    found: dict[str, int] = {}
    for name, output in course.scenario.output.items():
        if output.stream in struck:
            continue
        told = course.outputs[name].told
        stops_ns = told["at_ns"][(told["kind"] == FAILSAFE) | (told["kind"] == STOPPED)]
        found[name] = sum(int(np.diff(np.searchsorted(stops_ns, span))[0]) for span in spans_ns)
    return found


def fault_spans(course: Course, drill: Drill, strikes: Sequence[Strike]) -> tuple[Span, ...]:
    """From when to when each fault lasted."""
    stream = drill.streams(course.scenario)[0]
    return tuple(
        (strike.at_ns, min(_over_ns(course, drill, stream, strike), strike.until_ns))
        for strike in strikes
    )
