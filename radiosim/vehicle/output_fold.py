"""Entries into failsafe and the time in it, from the program's events (rule F5).

Speeds and dead bands of small servos are common practice, no source.
"""

import functools
import math
from collections.abc import Iterator, Sequence
from typing import Any

import msgspec
import numpy as np
import numpy.typing as npt

from radiosim.chance import REFRESH, draw_below, key_of
from radiosim.engine.jit import RECEIVER_COUNTS, JitBackend, Record, Rows
from radiosim.engine.payload import Payload
from radiosim.engine.plan import Plan
from radiosim.engine.plan_rows import PROGRAM_STOPS, Rx
from radiosim.engine.unit_spans import spans_without
from radiosim.registers.fault_kind import PARTS, VALUES
from radiosim.scenario import Scenario
from radiosim.scenario.structs.output_table import Output, Preset, Servo
from radiosim.trace import Table
from radiosim.units import NS_PER_S, NS_PER_US, ns_from_ms
from radiosim.vehicle.fold import output_effects as parts
from radiosim.vehicle.fold.output_effects import Command, EffectRecord, OutputState
from radiosim.vehicle.fold.program_state import FAILSAFE, LEFT, STOPPED, WRITTEN
from radiosim.vehicle.fold.values import PartState, Scale, level_of
from radiosim.vehicle.program_fold import (
    COUNTS,
    NO_PASSES,
    Points,
    program_steps,
    set_drawn,
    set_field,
    walk_steps,
)

NEVER = -1


class Entry(msgspec.Struct, frozen=True, kw_only=True):
    """One entry into failsafe."""

    at_ns: int
    fed_ns: int
    """When the timer was last fed."""
    is_true: bool
    """A blocking fault was active in between (rule F5); else it is a nuisance trip."""


class FailsafeFold:
    """Entries of one stream's timer, counted; time in failsafe counts from entries.

    `alive_ns`: the time out of failsafe, which begins with the first frames that end it (rule F3).
    """

    def __init__(self, scenario: Scenario, plan: Plan, stream: int) -> None:
        self.trips_on_fault = self.nuisance_trips = self.on_ns = self.alive_ns = 0
        self._stream, self._until_ns = stream, plan.until_ns
        self._spans = blocked_spans(scenario, plan, stream)
        self._entered_ns = self._left_ns = NEVER

    def take(self, events: Table) -> list[Entry]:
        """Some more events; the entries among them."""
        return self.take_rare(rare_in(events))

    def take_rare(self, rare: Sequence[tuple[int, int, int, int]]) -> list[Entry]:
        """The same of those that are no writes: stream, kind, instant, when it was fed."""
        entries = []
        for stream, kind, at_ns, fed_ns in rare:
            if stream != self._stream:
                continue
            if kind == FAILSAFE:
                is_true = any(since <= at_ns and until >= fed_ns for since, until in self._spans)
                entries.append(Entry(at_ns=at_ns, fed_ns=fed_ns, is_true=is_true))
                self._entered_ns = at_ns
            elif kind in (LEFT, STOPPED) and self._entered_ns != NEVER:
                self.on_ns += at_ns - self._entered_ns
                self._entered_ns = NEVER
            if kind == LEFT:
                self._left_ns = at_ns
            elif kind in (FAILSAFE, STOPPED):
                self._close_alive(at_ns)
        self.trips_on_fault += sum(entry.is_true for entry in entries)
        self.nuisance_trips += sum(not entry.is_true for entry in entries)
        return entries

    def finish(self) -> None:
        """No more events come: what is on stays on to the end, and what is alive, alive."""
        if self._entered_ns != NEVER:
            self.on_ns += self._until_ns - self._entered_ns
        self._entered_ns = NEVER
        self._close_alive(self._until_ns)

    def _close_alive(self, at_ns: int) -> None:
        if self._left_ns != NEVER:
            self.alive_ns += at_ns - self._left_ns
        self._left_ns = NEVER


def rare_in(events: Table) -> list[tuple[int, int, int, int]]:
    """Events that are no writes: stream, kind, instant, when the timer was fed."""
    if not len(events):
        return []
    rare = events[events["kind"] != WRITTEN]
    columns = (rare[name].tolist() for name in ("stream", "kind", "at_ns", "fed_ns"))
    return list(zip(*columns, strict=True))


def blocked_spans(scenario: Scenario, plan: Plan, stream: int) -> list[tuple[int, int]]:
    """When something that feeds a stream's timer was not as it should be (rule F5): one of the
    transmitters whose frames feed it, the receiver or the air.

    Stale values block only the timer that watches a field of theirs.
    """
    n = len(plan.tx)
    described = scenario.failsafe.get(plan.streams[stream])
    is_shared = described is not None and described.fed_by == "any"
    is_watched = described is not None and bool(described.watch_field)
    spans: list[tuple[int, int]] = []
    for unit in (*(range(n) if is_shared else (stream,)), n):
        parts = PARTS if unit == stream and is_watched else _BUT_VALUES
        steps = [step for step in plan.steps if step.unit == unit or step.unit > unit == n]
        spans.extend(spans_without(parts, steps, plan.until_ns))
    return spans


_BUT_VALUES = tuple(part for part in PARTS if part != VALUES)


def dead_band_deg(servo: Servo) -> float:
    """The change of angle that it does not follow."""
    first, last = servo.over_us
    return abs(servo.dead_band_us / (last - first)) * servo.travel_deg


def numbers_of(servo: Servo) -> dict[str, float]:
    """A servo as its state describes it; see ServoState."""
    first, last = servo.over_us
    return {
        "exists": 1,
        "first_us": first,
        "last_us": last,
        "travel_deg": servo.travel_deg,
        "band_deg": dead_band_deg(servo),
        "degrees_per_ns": 60.0 / (servo.seconds_per_60deg * NS_PER_S),
    }


def scale_of(output: Output) -> Scale:
    """How an output turns the mixed value of its fields into a level."""
    low, high = sorted(output.value)
    least_ns, most_ns = sorted(limit * NS_PER_US for limit in output.limit_us)
    first_ns, last_ns = (pulse * NS_PER_US for pulse in output.pulse_us)
    return Scale(
        low=low,
        high=high,
        has_pulses=int(output.kind == "servo"),
        first_ns=first_ns,
        last_ns=last_ns,
        least_ns=least_ns,
        most_ns=most_ns,
    )


def limited(scale: Scale, pulse_us: float) -> float:
    """A pulse inside the limits, in whole ns."""
    return float(round(min(max(pulse_us * NS_PER_US, scale.least_ns), scale.most_ns)))


def start_level(output: Output) -> float:
    """Level until the first frame; NaN: no pulses (rule G1)."""
    if output.at_start == "none":
        return math.nan
    if output.kind == "servo":
        return limited(scale_of(output), output.at_start)
    return output.at_start


def preset_level(output: Output) -> float:
    """Level of its preset on failsafe; NaN where there is none (rule F4)."""
    action = output.on_failsafe
    if not isinstance(action, Preset):
        return math.nan
    if action.preset_us is not None:
        return limited(scale_of(output), action.preset_us)
    return math.nan if action.preset is None else level_of(scale_of(output), action.preset)


Instants = npt.NDArray[np.int64]

EFFECTS = 4_096
"""Effects, and entries told, after which a fold hands over."""


class OutputLog(msgspec.Struct, frozen=True, kw_only=True):
    """What an output was told and what was in effect since the deeds before, in order.

    Overwritten by those that follow.
    """

    told: Table
    """One row an entry; see Command."""
    effects: Table
    """One row an effect; see EffectRecord."""
    rows: Rows
    """The effects as a fold takes them."""


class Room:
    """Room for what outputs do, used by one after the other, and when their program goes down."""

    def __init__(self, plan: Plan, backend: JitBackend) -> None:
        self.stops_ns = backend.numbers(stops_ns(plan))
        self.steps = backend.rows(walk_steps(plan))
        self._machine = backend

    @functools.cached_property
    def told(self) -> Rows:
        """Of what outputs are told; made when rows go by."""
        return self._machine.room(Command, EFFECTS)

    @functools.cached_property
    def effects(self) -> Rows:
        """Of what is in effect."""
        return self._machine.room(EffectRecord, EFFECTS)


class OutputMoment(msgspec.Struct, frozen=True):
    """All that a fold of an output holds."""

    state: Record
    passes: Table


class OutputFold:
    """One output of one start, folded over the program's events."""

    def __init__(
        self,
        scenario: Scenario,
        plan: Plan,
        start: int,
        name: str,
        backend: JitBackend,
        room: Room,
    ) -> None:
        output = scenario.output[name]
        self.is_smoothed = output.kind == "servo" and output.smoothing_us_per_pass > 0
        self._machine = backend
        self.state = _state_of(scenario, name, plan, start, backend)
        self.parts, self.points = _parts_of(scenario, name, plan, backend)
        self._stops_ns, self._steps = room.stops_ns, room.steps
        self._passes = NO_PASSES
        self._room = room
        self._fold = backend.entry(parts.fold_output)

    def take(self, events: Rows, passes: Table, until_ns: int) -> Iterator[OutputLog]:
        """What it does with some more events, up to an instant; some thousand effects at a time.

        `passes`: for an output with smoothing, those whose first reads come before `until_ns`
        (see WalkPass).
        """
        if self.is_smoothed:
            self._passes = np.concatenate((self._passes, passes))
        columns = parts.CommandInputs(
            events=events,
            parts=self.parts,
            points=self.points,
            stops_ns=self._stops_ns,
            passes=self._machine.rows(self._passes),
            steps=self._steps,
            until_ns=until_ns,
        )
        is_done = False
        while not is_done:
            is_done = self._fold(self.state, columns, self._room.told, self._room.effects)
            yield self.done()
        if self.is_smoothed:
            walk = self._machine.get(self.state, "walk")
            self._passes = self._passes[int(self._machine.get(walk, "taken_passes")) :].copy()
            self._machine.set(walk, taken_passes=0)

    def moment(self) -> OutputMoment:
        """What it holds now."""
        return OutputMoment(self._machine.copied(self.state), self._passes)

    def go_back(self, moment: OutputMoment, plan: Plan) -> None:
        """Goes back to a moment, to go on by a plan that had the same past."""
        backend = self._machine
        self.state, self._passes = backend.copied(moment.state), moment.passes
        stops = stops_ns(plan)
        self._stops_ns, self._steps = backend.numbers(stops), backend.rows(walk_steps(plan))
        taken = int(backend.get(self.state, "taken_stops"))
        backend.set(self.state, stop_ns=int(stops[taken]))

    def done(self) -> OutputLog:
        """What it has done in the last call of its fold."""
        backend, o = self._machine, self.state
        told, effects = int(backend.get(o, "told")), int(backend.get(o, "effects"))
        return OutputLog(
            told=backend.table(Command, self._room.told, told),
            effects=backend.table(EffectRecord, self._room.effects, effects),
            rows=self._room.effects[:effects],
        )


def stops_ns(plan: Plan) -> Instants:
    """When pins float because the program goes down; the end of the run last."""
    stops = [step.at_ns for step in program_steps(plan) if step.kind == PROGRAM_STOPS]
    return np.array([*stops, plan.until_ns], np.int64)


def pulse_period_ns(output: Output) -> int:
    """From one pulse to the next, before the clock's error."""
    return round(NS_PER_S / output.refresh_hz)


def _phase_ns(scenario: Scenario, start: int, name: str) -> int:
    output = scenario.output[name]
    if output.phase_ms == "drawn":
        key = key_of(scenario.seed, start, "output", name)
        return draw_below(key, REFRESH, pulse_period_ns(output))
    return ns_from_ms(output.phase_ms)


_ON_FAILSAFE = {"hold": parts.HOLD, "off": parts.OFF}


def _state_of(scenario: Scenario, name: str, plan: Plan, start: int, backend: JitBackend) -> Record:
    """An output before anything has happened."""
    output = scenario.output[name]
    (o,), rx = backend.moulded(scenario, f"output {name}", lambda: _mould_of(output, plan, backend))
    draw_output(backend, o, scenario, name, plan, start, rx)
    return o


def draw_output(
    backend: JitBackend,
    o: Record,
    scenario: Scenario,
    name: str,
    plan: Plan,
    start: int,
    was: Rx | None,
) -> None:
    """Set what clocks and draws of a start make of an output; `was`: the receiver that it has, if
    it counts passes."""
    phase_ns = _phase_ns(scenario, start, name)
    backend.set(o, phase_ns=phase_ns, ppb=plan.rx.ppb, pulse_ns=plan.until_ns)
    if was is not None:
        backend.fill(backend.get(backend.get(o, "walk"), "rx"), plan.rx, was)


def _mould_of(output: Output, plan: Plan, backend: JitBackend) -> tuple[Rows, Rx | None]:
    """An output as it is in every start; the receiver that it has, if it counts passes."""
    action, has_pulses = output.on_failsafe, output.kind == "servo"
    made = backend.records(OutputState, 1, RECEIVER_COUNTS)
    o, rx = made[0], None
    backend.set(
        o,
        stream=plan.streams.index(output.stream),
        has_pulses=int(has_pulses),
        period_ns=pulse_period_ns(output),
        start_level=start_level(output),
        on_failsafe=parts.PRESET if isinstance(action, Preset) else _ON_FAILSAFE[action],
        preset_level=preset_level(output),
        step_ns=output.smoothing_us_per_pass * NS_PER_US if has_pulses else 0.0,
        newest=parts.NOTHING,
        reached=math.nan,
    )
    backend.fill(backend.get(o, "scale"), scale_of(output))
    backend.set(backend.get(o, "last"), level=math.nan, frame=parts.NOTHING)
    if has_pulses and output.smoothing_us_per_pass > 0:
        rx = plan.rx
        backend.fill(backend.get(backend.get(o, "walk"), "rx"), rx)
    if output.servo is not None:
        backend.set(backend.get(o, "servo"), **numbers_of(output.servo))
    return made, rx


def _parts_of(scenario: Scenario, name: str, plan: Plan, backend: JitBackend) -> tuple[Rows, Any]:
    """The fields that an output follows, and the points of their signals."""
    output = scenario.output[name]
    payload = plan.payloads[plan.streams.index(output.stream)]
    places = [payload.layout.index_of(field) for field in output.mix]
    rows, points = backend.moulded(
        scenario, f"parts {name}", lambda: _parts_mould(output, payload, places, backend)
    )
    draw_parts(backend, rows, output, plan)
    return rows, points


def draw_parts(backend: JitBackend, rows: Rows, output: Output, plan: Plan) -> None:
    """Set what a start draws for the fields that an output follows."""
    payload = plan.payloads[plan.streams.index(output.stream)]
    for row, field in zip(rows, output.mix, strict=True):
        set_drawn(backend, backend.get(row, "field"), payload, payload.layout.index_of(field))


def _parts_mould(
    output: Output, payload: Payload, places: Sequence[int], backend: JitBackend
) -> tuple[Rows, Any]:
    """The same as they are in every start."""
    rows, points = backend.records(PartState, len(places), COUNTS), Points()
    for row, place, weight in zip(rows, places, output.mix.values(), strict=True):
        backend.set(row, weight=weight)
        set_field(backend, backend.get(row, "field"), payload, place, points)
    return rows, points.table(backend)
