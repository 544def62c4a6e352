"""The vehicle: what its program and every output make of rows, passing or kept.

Made by the very folds that make figures; of no use where memory must not grow with time.
"""

from collections.abc import Iterable, Iterator
from itertools import chain
from typing import NamedTuple

import msgspec
import numpy as np

from radiosim.engine.jit import RECEIVER_COUNTS, JitBackend, backend_for
from radiosim.engine.plan import Plan, plan_of
from radiosim.engine.timeline import FOREVER_NS
from radiosim.scenario import Scenario
from radiosim.trace import ReadOutcome, Table, Trace
from radiosim.vehicle.fold.program_state import (
    LEFT,
    WalkPass,
    WalkState,
    count_idle,
    walk_pass,
    walk_step,
)
from radiosim.vehicle.output_fold import (
    Entry,
    FailsafeFold,
    OutputFold,
    OutputLog,
    OutputMoment,
    Room,
)
from radiosim.vehicle.program_fold import Batch, ProgramFold, ProgramMoment, walk_steps


class Act(msgspec.Struct, frozen=True, kw_only=True):
    """Something that the vehicle did: a batch of the program's events, or an output's deeds."""

    batch: Batch | None = None
    output: str = ""
    output_log: OutputLog | None = None


class VehicleMoment(msgspec.Struct, frozen=True):
    """All that a vehicle holds."""

    program: ProgramMoment
    outputs: dict[str, OutputMoment]


class Vehicle:
    """The receiver's program and all outputs of one start, folded over its reads and passes."""

    def __init__(
        self,
        scenario: Scenario,
        plan: Plan,
        start: int,
        backend: JitBackend,
        *,
        is_prompt: bool = False,
    ) -> None:
        """`is_prompt`: acts come with the rows that make them known; else some thousand at once."""
        self.room = Room(plan, backend)
        self.outputs = {
            name: OutputFold(scenario, plan, start, name, backend, self.room)
            for name in scenario.output
        }
        self._plan = plan
        self.program = ProgramFold(
            scenario,
            plan,
            backend,
            tells_passes=is_prompt or any(output.is_smoothed for output in self.outputs.values()),
        )

    def take(self, reads: Table, passes: Table) -> Iterator[Act]:
        """What more rows make known; each act is overwritten by those after it."""
        for batch in self.program.take(reads, passes):
            yield from self._acts(batch)

    def finish(self) -> Iterator[Act]:
        """What is left to do when no more rows come."""
        for batch in self.program.finish():
            yield from self._acts(batch)

    def moment(self) -> VehicleMoment:
        """What it holds now; it must be prompt."""
        outputs = {name: output.moment() for name, output in self.outputs.items()}
        return VehicleMoment(self.program.moment(), outputs)

    def go_back(self, moment: VehicleMoment, plan: Plan) -> None:
        """Goes back to a moment, to go on by a plan that had the same past."""
        self.program.go_back(moment.program, plan)
        for name, output in self.outputs.items():
            output.go_back(moment.outputs[name], plan)

    def _acts(self, batch: Batch) -> Iterator[Act]:
        yield Act(batch=batch)
        for name, output in self.outputs.items():
            for output_log in output.take(batch.rows, batch.passes, batch.until_ns):
                yield Act(output=name, output_log=output_log)


class Event(NamedTuple):
    """Something that outputs of a stream see, at the start of a pass or at a step."""

    at_ns: int
    kind: int
    read: int
    """Row of the trace's reads whose values are written; -1 for other kinds."""


class StreamRecord(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """What the program did for one stream."""

    table: Table
    """One row an event but for LEFT; see EventRecord."""
    entries: tuple[Entry, ...]
    left_ns: tuple[int, ...]
    """When failsafe was over."""
    on_ns: int
    """Time in failsafe, counted from entries (the state after boot is none)."""

    @property
    def events(self) -> tuple[Event, ...]:
        """The rows one by one."""
        columns = (self.table[name].tolist() for name in Event._fields)
        return tuple(map(Event._make, zip(*columns, strict=True)))


class OutputRecord(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """What one output was told, and what was in effect."""

    told: Table
    """One row an entry; see Command."""
    effects: Table
    """One row a pulse or a write; see EffectRecord."""


class OutputCollector:
    """Gathers what every output of one start was told, and what was in effect."""

    def __init__(self, names: Iterable[str]) -> None:
        self._logs: dict[str, list[OutputRecord]] = {name: [] for name in names}

    def take(self, act: Act) -> None:
        """Keep what an act tells of an output, if it does."""
        if act.output_log is not None:
            log = act.output_log
            kept = OutputRecord(told=log.told.copy(), effects=log.effects.copy())
            self._logs[act.output].append(kept)

    def records(self) -> dict[str, OutputRecord]:
        """All of it, by output."""
        return {
            name: OutputRecord(
                told=np.concatenate([log.told for log in logs]),
                effects=np.concatenate([log.effects for log in logs]),
            )
            for name, logs in self._logs.items()
        }


class VehicleRecord(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """All of one start."""

    streams: tuple[StreamRecord, ...]
    outputs: dict[str, OutputRecord]


def run_vehicle(trace: Trace) -> VehicleRecord:
    """What the program and every output did in one start."""
    plan = plan_of(trace)
    vehicle = Vehicle(trace.scenario, plan, trace.start, backend_for(plan, trace.engine))
    return record_of(trace, chain(vehicle.take(trace.reads, trace.passes), vehicle.finish()))


def record_of(trace: Trace, acts: Iterable[Act]) -> VehicleRecord:
    """All that was done in one start, of what a vehicle did."""
    scenario, plan = trace.scenario, plan_of(trace)
    events: list[Table] = []
    outputs = OutputCollector(scenario.output)
    for act in acts:
        if act.batch is not None:
            events.append(act.batch.events.copy())
        outputs.take(act)
    program = np.concatenate(events)
    streams = []
    for stream in range(len(plan.streams)):
        fold = FailsafeFold(scenario, plan, stream)
        entries = tuple(fold.take(program))
        fold.finish()
        mine = program[program["stream"] == stream]
        is_left = mine["kind"] == LEFT
        streams.append(
            StreamRecord(
                table=mine[~is_left],
                entries=entries,
                left_ns=tuple(mine["at_ns"][is_left].tolist()),
                on_ns=fold.on_ns,
            )
        )
    return VehicleRecord(streams=tuple(streams), outputs=outputs.records())


def pass_starts(
    trace: Trace, plan: Plan, *, from_ns: int = 0, until_ns: int = FOREVER_NS
) -> tuple[int, ...]:
    """Their starts in ns from an instant to before another, in order.

    Found by the very rules that count passes (rule E1).
    """
    backend = JitBackend(None)
    w = backend.record(WalkState, RECEIVER_COUNTS)
    backend.fill(w.rx, plan.rx)
    walk = _Walk(w, from_ns, [])
    passes, taken, until_ns = _walk_passes(trace), 0, min(until_ns, plan.until_ns)
    for at_ns, kind, reads_first in walk_steps(plan).tolist():
        if at_ns >= until_ns:
            break
        taken = walk.take(passes, taken, at_ns + reads_first)
        walk.idle_until(at_ns)
        walk_step(w, at_ns, kind)
    walk.take(passes, taken, until_ns)
    walk.idle_until(until_ns)
    return tuple(at_ns for at_ns in walk.starts if from_ns <= at_ns < until_ns)


class _Walk(msgspec.Struct, frozen=True):
    """The passes so far, listed from an instant on."""

    w: WalkState
    from_ns: int
    starts: list[int]

    def take(self, passes: list[WalkPass], taken: int, before_ns: int) -> int:
        """On past the passes whose first read is before an instant; how many are taken then."""
        while taken < len(passes) and passes[taken].first_ns < before_ns:
            then = passes[taken + 1].first_ns if taken + 1 < len(passes) else FOREVER_NS
            if then >= min(before_ns, self.from_ns):
                self._take(passes[taken])
            taken += 1
        return taken

    def _take(self, row: WalkPass) -> None:
        """On to a pass that reads; with interrupts it may have started already."""
        self.idle_until(row.start_ns)
        before = self.w.count
        walk_pass(self.w, row.start_ns, row.next_ns)
        if self.w.count > before:
            self.starts.append(self.w.last_ns)

    def idle_until(self, at_ns: int) -> None:
        count_idle(self.w, min(at_ns, self.from_ns))
        while self.w.running and self.w.next_ns < at_ns:
            count_idle(self.w, self.w.next_ns + 1)
            self.starts.append(self.w.last_ns)


def _walk_passes(trace: Trace) -> list[WalkPass]:
    """Passes with reads, each with the instant of its first."""
    is_seen = np.isin(trace.reads["outcome"], (ReadOutcome.READ, ReadOutcome.THROWN_AWAY))
    read_ns = trace.reads["read_ns"][is_seen].tolist()
    rows, taken = [], 0
    for start_ns, next_ns, frames in trace.passes.tolist():
        rows.append(WalkPass(read_ns[taken], start_ns, next_ns))
        taken += frames
    return rows
