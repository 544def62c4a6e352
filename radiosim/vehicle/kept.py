"""What the vehicle did in a start whose trace was kept, to be looked at as a whole.

Made by the very folds that make figures; of no use where memory must not grow with time.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from radiosim.engine.machine import machine_for
from radiosim.engine.plan import make_plan
from radiosim.trace import Table, Trace
from radiosim.vehicle.failsafe import Entry, FailsafeFold
from radiosim.vehicle.fold.records import LEFT
from radiosim.vehicle.vehicle import Vehicle


class Event(NamedTuple):
    """Something that outputs of a stream see, at the start of a pass or at a step."""

    at_ns: int
    kind: int
    read: int
    """Row of the trace's reads whose values are written; -1 for other kinds."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StreamRecord:
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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OutputRecord:
    """What one output was told, and what was in effect."""

    told: Table
    """One row an entry; see ToldRecord."""
    effects: Table
    """One row a pulse or a write; see EffectRecord."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class VehicleRecord:
    """All of one start."""

    streams: tuple[StreamRecord, ...]
    outputs: dict[str, OutputRecord]


def run_vehicle(trace: Trace) -> VehicleRecord:
    """What the program and every output did in one start."""
    scenario, plan = trace.scenario, make_plan(trace.scenario, trace.start)
    vehicle = Vehicle(scenario, plan, trace.start, machine_for(plan))
    events: list[Table] = []
    told: dict[str, list[Table]] = {name: [] for name in scenario.output}
    effects: dict[str, list[Table]] = {name: [] for name in scenario.output}
    for acts in (vehicle.take(trace.reads, trace.passes), vehicle.finish()):
        for act in acts:
            if act.batch is not None:
                events.append(act.batch.events.copy())
            if act.deeds is not None:
                told[act.output].append(act.deeds.told.copy())
                effects[act.output].append(act.deeds.effects.copy())
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
    return VehicleRecord(
        streams=tuple(streams),
        outputs={
            name: OutputRecord(
                told=np.concatenate(told[name]), effects=np.concatenate(effects[name])
            )
            for name in scenario.output
        },
    )
