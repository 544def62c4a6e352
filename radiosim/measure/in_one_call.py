"""Runs all of a start in one call of machine code, which comes back where Python is needed."""

import threading
from collections.abc import Sequence
from typing import Any

import msgspec
import numpy as np

from radiosim.engine.fast.compiled_run import compare, draw_world, head_of, world_of
from radiosim.engine.fast.loop import ASK
from radiosim.engine.fast.world import ROWS
from radiosim.engine.jit import RECEIVER_COUNTS, JitBackend, Record, Rows
from radiosim.engine.plan import Plan
from radiosim.engine.plan_rows import Step
from radiosim.machine import Root
from radiosim.measure import whole_start as parts
from radiosim.measure.histogram import COUNTS
from radiosim.measure.of_fault import FaultFolds
from radiosim.measure.of_stream import StreamFold
from radiosim.scenario import Scenario
from radiosim.trace import table_dtype
from radiosim.vehicle.fold.output_effects import Command, EffectRecord
from radiosim.vehicle.fold.program_state import EventRecord, ToldPass
from radiosim.vehicle.fold.values import PartState
from radiosim.vehicle.output_fold import (
    FailsafeFold,
    OutputFold,
    OutputLog,
    draw_output,
    draw_parts,
    rare_in,
    stops_ns,
)
from radiosim.vehicle.program_fold import COUNTS as FIELD_COUNTS
from radiosim.vehicle.program_fold import draw_program, walk_steps
from radiosim.vehicle.vehicle import Vehicle

_EVENTS = 4_096
"""Room for events, and for effects of an output."""
_NEAR = 512
"""Of them, if Python need not look at them: they stay near the processor."""


_BACKEND = JitBackend(parts)


class _Rooms(threading.local):
    """Room for what comes and goes, used by one start after the other."""

    def __init__(self) -> None:
        room = _BACKEND.room
        self.events = room(EventRecord, 2 * _EVENTS)
        self.rare = room(EventRecord, 2 * _EVENTS)
        self.passes = room(ToldPass, 2 * ROWS)
        self.entries = room(Command, _EVENTS)
        self.effects = room(EffectRecord, _EVENTS)


_ROOMS = _Rooms()


class Folds(msgspec.Struct, frozen=True, kw_only=True):
    """All folds of one start, before anything has happened."""

    streams: StreamFold
    vehicle: Vehicle
    units: Rows
    """One an output, in order, in which its figures stand; see OutputUnit."""
    failsafes: Sequence[FailsafeFold]
    faults: FaultFolds


def output_units(count: int) -> Rows:
    """Room for some outputs with their figures; see OutputUnit."""
    return _BACKEND.records(parts.OutputUnit, count, RECEIVER_COUNTS | COUNTS)


class Begun:
    """All that the starts of one scenario are made in, one after the other: it is put back to
    where the first of them began, and what a start draws set anew."""

    def __init__(self, scenario: Scenario, plan: Plan, folds: Folds) -> None:
        """`folds`: of the first start."""
        self.scenario, self._plan, self._folds = scenario, plan, folds
        self._world = world_of(plan)
        self._tables = _tables_of(plan, folds, self._world)
        self._call = _ROOT.bound(self._tables)
        self._first = plan
        t = self._tables
        held = (t.states, t.busy.base, t.streams, t.program.base, t.outputs, t.parts)
        # The tables of a world hold no state.
        now = [head_of(self._world), *(_bytes_of(part) for part in held)]
        self._held = [(part, part.copy()) for part in now]
        self._outputs = [
            (
                name,
                plan.rx if output.is_smoothed else None,
                unit["state"],
                t.parts[unit["first_part"] : unit["end_part"]],
            )
            for (name, output), unit in zip(folds.vehicle.outputs.items(), t.outputs, strict=True)
        ]

    @property
    def units(self) -> Rows:
        """Outputs with their figures; see OutputUnit."""
        return self._tables.outputs

    def again(self, plan: Plan, start: int, folds: Folds) -> None:
        """To where another start begins; `folds`: those of the first, for this start."""
        scenario, first = self.scenario, self._first
        self._plan, self._folds = plan, folds
        for part, began in self._held:
            part[:] = began
        draw_world(self._world, plan, first)
        draw_program(_BACKEND, self._tables.program, scenario, plan, first.rx)
        for name, rx, state, rows in self._outputs:
            output = scenario.output[name]
            draw_output(_BACKEND, state, scenario, name, plan, start, rx)
            draw_parts(_BACKEND, rows, output, plan)
        self._take_steps(plan)

    def _take_steps(self, plan: Plan) -> None:
        """The steps of a start; where there are as many as before they take their places."""
        t = self._tables
        made = (_steps_of(plan), walk_steps(plan), stops_ns(plan))
        places = (t.steps, t.program_steps, t.stops_ns)
        if all(len(new) == len(old) for new, old in zip(made, places, strict=True)):
            for new, old in zip(made, places, strict=True):
                old[:] = new
            return
        steps, program_steps, stops = made
        self._tables = t._replace(steps=steps, program_steps=program_steps, stops_ns=stops)
        self._call = _ROOT.bound(self._tables)

    def fold(self) -> bool:
        """Simulate the start and take its rows; false: they must be taken as they go by, all.

        That is so where a pass reads more frames than there is room for.
        """
        tables, folds = self._tables, self._folds
        state, names = tables.states[0], list(folds.vehicle.outputs)
        while True:
            why = self._call()
            if why == ASK:
                compare(self._world, self._plan)
            elif why == parts.TOLD:
                told = int(state["told"])
                log = _log_of(tables, folds.units[told]["state"])
                folds.faults.take(names[told], log)
            else:
                rare = rare_in(tables.rare[: state["rare"]])
                for failsafe in folds.failsafes:
                    failsafe.take_rare(rare)
                state["rare"] = 0
                if why != parts.RARE_FULL:
                    return bool(why == parts.OVER)


_ROOT = Root(parts.fold_start)


def _bytes_of(records: Rows) -> Any:
    return records.view(np.uint8).reshape(-1)


def _steps_of(plan: Plan) -> Any:
    return np.array(list(plan.steps), table_dtype(Step))


def _log_of(tables: Any, output: Record) -> OutputLog:
    """What an output has done in the last call."""
    effects = tables.effects[: output["effects"]]
    return OutputLog(told=tables.entries[: output["told"]], effects=effects, rows=effects)


def _tables_of(plan: Plan, folds: Folds, world: Record) -> Any:
    """All that the call works in, before anything has happened."""
    vehicle, streams, program = folds.vehicle, folds.streams, folds.vehicle.program
    part_rows, part_points = _placed(folds.units, tuple(vehicle.outputs.values()))
    is_told = folds.faults.is_any
    few = _EVENTS if is_told else _NEAR
    states = _BACKEND.records(parts.StartState, 1)
    _BACKEND.set(states[0], until_ns=plan.until_ns, batch=few, tells=is_told)
    return parts.Tables(
        states=states,
        worlds=world.base,
        steps=_steps_of(plan),
        program_steps=vehicle.room.steps,
        busy=streams.busy,
        streams=streams.states,
        program=program.state,
        points=program.points,
        events=_ROOMS.events,
        passes=_ROOMS.passes,
        outputs=folds.units,
        parts=part_rows,
        part_points=part_points,
        stops_ns=vehicle.room.stops_ns,
        entries=_ROOMS.entries[:few],
        effects=_ROOMS.effects[:few],
        rare=_ROOMS.rare,
    )


_NO_POINTS = np.zeros((0, 2))


def _placed(units: Rows, outputs: Sequence[OutputFold]) -> tuple[Rows, Any]:
    """Put the states of outputs side by side, their fields, and the points of their signals."""
    at, of = units.dtype.fields["state"][1], units.dtype["state"].itemsize
    raw = units.view(np.uint8).reshape(len(units), units.dtype.itemsize)
    counts = [len(output.parts) for output in outputs]
    rows, part, point = _BACKEND.records(PartState, sum(counts), FIELD_COUNTS), 0, 0
    for unit, row, output, count in zip(units, raw, outputs, counts, strict=True):
        row[at : at + of] = output.state.base.view(np.uint8)
        unit["first_part"], unit["first_point"] = part, point
        rows[part : part + count] = output.parts
        part += count
        point += len(output.points)
        unit["end_part"], unit["end_point"] = part, point
    return rows, np.concatenate([_NO_POINTS, *(output.points for output in outputs)])
