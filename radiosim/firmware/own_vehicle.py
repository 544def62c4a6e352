"""What a receiver's own program makes of a start, for the folds that make figures.

The link is the model's, and so is what outputs do with their levels; levels, and when failsafe is
on, are the program's. It has figures only where it does what the model's program does, within the
tolerance: else the link, or a bound that stands beside them, would be another one's.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from radiosim.engine.jit import JitBackend, backend_for, dtype_of
from radiosim.engine.plan import Plan, plan_of
from radiosim.errors import FirmwareError
from radiosim.firmware.compare import difference, reads_elsewhere, tolerance_ns
from radiosim.firmware.script import (
    BOOTS,
    FAILSAFE_STATE,
    STOPS,
    Reply,
    Script,
    receiver_steps,
    script_of,
)
from radiosim.firmware.standing import standing_bench
from radiosim.firmware.tried import check_stamp, ended_of
from radiosim.scenario import Scenario
from radiosim.trace import Table, Trace
from radiosim.units import NS_PER_MS, NS_PER_S, NS_PER_US
from radiosim.vehicle.fold.output_effects import CommandInputs
from radiosim.vehicle.fold.program_state import (
    FAILSAFE,
    LEFT,
    STARTED,
    STOPPED,
    WRITTEN,
    EventRecord,
)
from radiosim.vehicle.fold.told_effects import fold_told
from radiosim.vehicle.output_fold import OutputFold, OutputLog, Room
from radiosim.vehicle.program_fold import NO_PASSES, Batch
from radiosim.vehicle.vehicle import Act, run_vehicle

_EVENT = dtype_of(EventRecord, {})
_NOTHING = -1
Row = tuple[int, ...]
"""A row of EventRecord."""


class OwnVehicle:
    """Outputs and failsafe of one start, by the program that its scenario names.

    As `Vehicle`, but all at once, from a whole trace. FirmwareError for a program that ends
    early, or does not do what the model does, in one line.
    """

    def __init__(self, trace: Trace) -> None:
        self._trace, self._plan = trace, plan_of(trace)
        self._backend = backend_for(self._plan, trace.engine)

    def take(self, reads: Table, passes: Table) -> Iterator[Act]:
        """Nothing: what rows make known comes in the end."""
        return iter(())

    def finish(self) -> Iterator[Act]:
        """All that the program and its outputs did."""
        trace, plan = self._trace, self._plan
        scenario = trace.scenario
        told = _told(scenario, plan, trace)
        events = np.array(told.events, _EVENT)
        yield Act(
            batch=Batch(
                events=events,
                rows=self._backend.rows(events),
                has_only_writes=False,
                passes=NO_PASSES,
                until_ns=plan.until_ns,
            )
        )
        room = Room(plan, self._backend)
        for name in scenario.output:
            fold = OutputFold(scenario, plan, trace.start, name, self._backend, room)
            for log in _effects(self._backend, plan, fold, room, told.of[name]):
                yield Act(output=name, output_log=log)


@dataclass(slots=True, kw_only=True)
class _Output:
    """What one output was told."""

    stream: int
    rows: list[Row] = field(default_factory=list)
    levels: list[float] = field(default_factory=list)

    @property
    def level(self) -> float:
        """What it was told last."""
        return self.levels[-1] if self.levels else np.nan

    def tell(self, row: Row, level: float) -> None:
        """Once more."""
        self.rows.append(row)
        self.levels.append(level)


@dataclass(slots=True, kw_only=True)
class _Told:
    """All that a program told, as far as it is gone through."""

    events: list[Row]
    of: dict[str, _Output]


def _told(scenario: Scenario, plan: Plan, trace: Trace) -> _Told:
    bench = standing_bench(scenario)
    script = script_of(scenario, plan, trace, tells_all=True)
    reply = bench.run(script)
    check_stamp(int(reply.head["stamp"]), scenario)
    end = ended_of(bench, scenario, reply)
    if end is not None:
        raise FirmwareError(f"receiver.program: in start {trace.start} it {end.text}")
    elsewhere = min(
        reads_elsewhere(plan, trace, script, reply), key=lambda one: one.at_ns, default=None
    )
    if elsewhere is not None:
        raise FirmwareError(
            f"receiver.program: in start {trace.start}, at {elsewhere.at_ns / NS_PER_S:.6f} s, it "
            f"does not read a frame of {elsewhere.stream} when receiver.read says, so its link "
            "would be another one; radiosim firmware tells more"
        )
    told = _Walk(scenario, plan, trace, script, reply).told()
    _check_held(scenario, plan, trace, script, reply)
    return told


def _check_held(scenario: Scenario, plan: Plan, trace: Trace, script: Script, reply: Reply) -> None:
    """FirmwareError for outputs or failsafe that part from the model's: bounds are the model's,
    and values of outputs are looked at here alone."""
    tolerance = tolerance_ns(plan)
    if tolerance is None:
        raise FirmwareError("receiver.work: passes without an end cannot be compared")
    found = difference(scenario, plan, trace, run_vehicle(trace), script, reply, tolerance)
    parted = [(span, one.name) for one in found.outputs for span in one.spans]
    parted += [(span, f"failsafe of {one.name}") for one in found.failsafe for span in one.spans]
    first = min(parted, key=lambda one: one[0].from_ns, default=None)
    if first is not None:
        span, what = first
        raise FirmwareError(
            f"receiver.program: in start {trace.start}, at {span.from_ns / NS_PER_S:.6f} s, {what} "
            f"is other than predicted, for {span.length_ns / NS_PER_MS:.4g} ms: figures "
            "are told of a program that does what the scenario says; radiosim firmware tells more"
        )


class _Walk:
    """Goes through what a program told, in order, beside its boots and the frames it took."""

    def __init__(
        self, scenario: Scenario, plan: Plan, trace: Trace, script: Script, reply: Reply
    ) -> None:
        self._scenario, self._plan, self._reply = scenario, plan, reply
        self._steps: list[tuple[int, int]] = receiver_steps(plan).tolist()
        self._taken: list[tuple[int, ...]] = trace.reads[script.rows][reply.takes["row"]].tolist()
        self._rows: list[int] = script.rows[reply.takes["row"]].tolist()
        self._takes = 0
        streams = len(plan.streams)
        self._fed_ns = [0] * streams
        self._latched = [_NOTHING] * streams
        self._has_timer = [name in scenario.failsafe for name in plan.streams]
        self._is_on = list(self._has_timer)
        self._has_told = [False] * streams
        self._booted_ns = 0
        self._outputs = [
            _Output(stream=plan.streams.index(output.stream)) for output in scenario.output.values()
        ]
        pipes = {unit.pipe: name for name, unit in scenario.transmitter.items()}
        self._of_pipe = {pipe: plan.streams.index(name) for pipe, name in pipes.items()}
        self._events: list[Row] = []

    def told(self) -> _Told:
        """All of it."""
        at_step = 0
        for at_ns, kind, output, value, takes in self._reply.outs.tolist():
            while at_step < len(self._steps) and self._steps[at_step][0] <= at_ns:
                self._step(*self._steps[at_step])
                at_step += 1
            self._take(takes)
            if kind == FAILSAFE_STATE:
                self._failsafe(self._of_pipe[output], at_ns, bool(value))
            else:
                self._write(output, at_ns, value)
        for step in self._steps[at_step:]:
            self._step(*step)
        return _Told(
            events=self._events, of=dict(zip(self._scenario.output, self._outputs, strict=True))
        )

    def _step(self, at_ns: int, kind: int) -> None:
        # Frames taken before it that no output was told of: they do not outlive it.
        while self._takes < len(self._taken) and self._read_ns(self._takes) < at_ns:
            self._take(self._takes + 1)
        if kind == STOPS:
            self._both(at_ns, STOPPED)
        elif kind == BOOTS:
            self._booted_ns = at_ns
            self._fed_ns = [at_ns] * len(self._fed_ns)
            self._is_on = list(self._has_timer)
            self._both(at_ns, STARTED)
        self._latched = [_NOTHING] * len(self._latched)

    def _both(self, at_ns: int, kind: int) -> None:
        """To all streams and all outputs."""
        for stream in range(len(self._latched)):
            self._events.append(self._row(stream, at_ns, kind))
        for output in self._outputs:
            output.tell(self._row(output.stream, at_ns, kind), np.nan)

    def _read_ns(self, take: int) -> int:
        return int(self._reply.takes["at_ns"][take])

    def _take(self, takes: int) -> None:
        while self._takes < takes:
            stream, at_ns = self._taken[self._takes][0], self._read_ns(self._takes)
            self._latched[stream] = self._takes
            for other, name in enumerate(self._plan.streams):
                timer = self._scenario.failsafe.get(name)
                if other == stream or (timer is not None and timer.fed_by == "any"):
                    self._fed_ns[other] = at_ns
            self._takes += 1

    def _failsafe(self, stream: int, at_ns: int, is_on: bool) -> None:
        self._has_told[stream] = True
        if self._is_on[stream] == is_on:
            return
        self._is_on[stream] = is_on
        self._events.append(self._row(stream, at_ns, FAILSAFE if is_on else LEFT))
        for output in self._outputs:
            if is_on and output.stream == stream:
                output.tell(self._row(stream, at_ns, FAILSAFE), output.level)

    def _write(self, number: int, at_ns: int, value: int) -> None:
        output = self._outputs[number]
        stream, level = output.stream, self._level(number, value)
        if self._has_timer[stream] and self._latched[stream] >= 0 and not self._has_told[stream]:
            name = self._plan.streams[stream]
            raise FirmwareError(
                f"receiver.program: it never tells of failsafe of {name}, so trips cannot be "
                "counted; call rx_failsafe of receiver.h as it begins and ends"
            )
        if not self._is_on[stream] and self._latched[stream] >= 0:
            row = self._row(stream, at_ns, WRITTEN)
            self._events.append(row)
            output.tell(row, level)
        elif not _is_same(level, output.level):
            is_boot = at_ns == self._booted_ns and self._latched[stream] < 0
            output.tell(self._row(stream, at_ns, STARTED if is_boot else FAILSAFE), level)

    def _level(self, number: int, value: int) -> float:
        kinds = [output.kind for output in self._scenario.output.values()]
        if kinds[number] != "servo":
            return float(value)
        return float(value * NS_PER_US) if value else np.nan

    def _row(self, stream: int, at_ns: int, kind: int) -> Row:
        fed_ns = self._fed_ns[stream] if kind == FAILSAFE else 0
        if kind != WRITTEN:
            return (stream, at_ns, kind, fed_ns, _NOTHING, 0, 0, 0, 0)
        take = self._latched[stream]
        _, frame, sampled_ns, values_ns, values_frame, *_ = self._taken[take]
        read = self._rows[take]
        return (stream, at_ns, kind, fed_ns, read, frame, sampled_ns, values_ns, values_frame)


def _is_same(a: float, b: float) -> bool:
    return a == b or (np.isnan(a) and np.isnan(b))


def _effects(
    backend: JitBackend, plan: Plan, fold: OutputFold, room: Room, told: _Output
) -> Iterator[OutputLog]:
    """What an output does with what it was told, some thousand effects at a time."""
    columns: Any = CommandInputs(
        events=backend.rows(np.array(told.rows, _EVENT)),
        parts=fold.parts,
        points=fold.points,
        stops_ns=room.stops_ns,
        passes=backend.rows(NO_PASSES),
        steps=room.steps,
        until_ns=plan.until_ns,
    )
    levels: Any = backend.numbers(np.array(told.levels, np.float64))
    take = backend.entry(fold_told)
    # Ramps, if it makes any, are the program's own.
    backend.set(fold.state, step_ns=0.0)
    is_done = False
    while not is_done:
        is_done = take(fold.state, columns, levels, room.told, room.effects)
        yield fold.done()
