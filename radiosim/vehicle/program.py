"""What the receiver's program does with what it reads: timers, latches, writes (rules E and F)."""

import functools
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any, NamedTuple, get_type_hints

import numpy as np

from radiosim.engine.choice import load_fast
from radiosim.engine.payload import Instants
from radiosim.engine.plan import Plan
from radiosim.engine.plan_rows import (
    PROGRAM_PAUSES,
    PROGRAM_RESUMES,
    PROGRAM_STARTS,
    PROGRAM_STOPS,
    VALUES_FREEZE,
    VALUES_THAW,
    Step,
)
from radiosim.engine.records import blank, dtype_of, fill
from radiosim.engine.rules.grid import scaled
from radiosim.engine.timeline import FOREVER_NS, impaired_spans
from radiosim.scenario.structs.failsafe import Failsafe
from radiosim.trace import READ, THROWN_AWAY, Trace
from radiosim.units import ns_from_ms
from radiosim.vehicle.fold import program as parts
from radiosim.vehicle.fold.records import (
    EVENTS,
    FAILSAFE,
    LEFT,
    MARGIN,
    MOST_STREAMS,
    STARTED,
    STOPPED,
    WRITTEN,
    Columns,
    EventRecord,
    ProgramState,
)
from radiosim.vehicle.values import ReadValues

__all__ = ["FAILSAFE", "STARTED", "STOPPED", "WRITTEN", "StreamRecord", "run_program"]

Record = Any
"""The state of the fold: a record of compiled code, or a plain object."""
MOST_WORKS = 64


class Event(NamedTuple):
    """Something that outputs of a stream see, at the start of a pass or at a step."""

    at_ns: int
    kind: int
    read: int
    """Row of the trace's reads whose values are written; -1 for other kinds."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One entry into failsafe."""

    at_ns: int
    fed_ns: int
    """When the timer was last fed."""
    is_true: bool
    """A blocking fault was active in between (rule F5); else it is a nuisance trip."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StreamRecord:
    """What the program did for one stream."""

    table: Instants
    """One row an event, with the columns of Event."""
    entries: tuple[Entry, ...]
    on_ns: int
    """Time in failsafe, counted from entries (the state after boot is none)."""

    @property
    def events(self) -> tuple[Event, ...]:
        """The rows one by one."""
        return tuple(Event(*row) for row in self.table.tolist())


def run_program(
    trace: Trace, plan: Plan, values: ReadValues | None = None
) -> tuple[StreamRecord, ...]:
    """What the program did in one start, by stream; `values` as for outputs."""
    timed = [(i, trace.scenario.failsafe.get(name)) for i, name in enumerate(plan.streams)]
    timers = [(i, described) for i, described in timed if described is not None]
    columns = _columns(trace, plan, timers, values or ReadValues(trace, plan))
    events = np.concatenate(list(_fold(plan, timers, columns)))
    return tuple(_record(trace, plan, stream, events) for stream in range(len(plan.streams)))


Timers = list[tuple[int, Failsafe]]


def _columns(trace: Trace, plan: Plan, timers: Timers, values: ReadValues) -> Columns:
    """What the fold reads of a trace."""
    reads, passes = trace.reads, trace.passes
    rows = np.flatnonzero((reads["outcome"] == READ) | (reads["outcome"] == THROWN_AWAY))
    seen = reads[rows]
    is_at_arrival = any(described.fed_at == "arrival" for _, described in timers)
    arrived = reads if is_at_arrival else reads[:0]

    def said(fields: list[str]) -> Any:
        """By timer, what a field says in each row; a row of zeros where there is none."""
        table = np.zeros((max(1, len(timers)), max(1, len(reads))))
        for k, ((stream, _), field) in enumerate(zip(timers, fields, strict=True)):
            if field:
                index = plan.payloads[stream].layout.index_of(field)
                table[k, : len(reads)] = values.column(stream, index)
        return table

    needs = [described.resume_needs for _, described in timers]
    return Columns(
        pass_start_ns=passes["start_ns"].copy(),
        pass_next_ns=passes["next_ns"].copy(),
        pass_frames=passes["frames"].copy(),
        read_ns=seen["read_ns"].copy(),
        read_stream=seen["stream"].copy(),
        read_outcome=seen["outcome"].copy(),
        read_row=rows,
        arrival_ns=arrived["accepted_ns"].copy(),
        arrival_stream=arrived["stream"].copy(),
        watched=said([described.watch_field for _, described in timers]),
        needed=said(["" if need is None else need.field for need in needs]),
    )


def _fold(plan: Plan, timers: Timers, columns: Columns) -> Iterator[Instants]:
    """Events in the order in which they happened, some thousand at a time; see EventRecord."""
    has_room = max(len(plan.rx.work), len(plan.rx.deaf)) <= MOST_WORKS
    is_compiled = has_room and not isinstance(load_fast(), str)
    fold_passes, fold_step, fold_idle = _loops(is_compiled)
    p = _record_of(plan, timers) if is_compiled else _object_of(plan, timers)
    c = columns if is_compiled else Columns(*(column.tolist() for column in columns))
    for step in _program_steps(plan):
        while not fold_passes(p, c, step.at_ns, _reads_as_it_ends(plan, step)):
            yield _emptied(p)
        fold_step(p, c, step.kind, step.at_ns)
    while not fold_passes(p, c, FOREVER_NS, True):
        yield _emptied(p)
    fold_idle(p, c, plan.until_ns)
    yield _emptied(p)


Agenda = Iterator[tuple[Step | None, tuple[int, int] | None]]


def agenda_of(trace: Trace, plan: Plan) -> Agenda:
    """Steps of the program and passes that read, in the order of rule T4.

    A pass is (start, start of the next).
    """
    seen = (trace.reads["outcome"] == READ) | (trace.reads["outcome"] == THROWN_AWAY)
    read_ns = trace.reads["read_ns"][seen]
    firsts = np.cumsum(trace.passes["frames"]) - trace.passes["frames"]
    rows = zip(
        read_ns[firsts].tolist(),
        trace.passes["start_ns"].tolist(),
        trace.passes["next_ns"].tolist(),
        strict=True,
    )
    row = next(rows, None)
    for step in _program_steps(plan):
        is_late = _reads_as_it_ends(plan, step)
        while row is not None and (row[0] < step.at_ns or (is_late and row[0] == step.at_ns)):
            yield None, row[1:]
            row = next(rows, None)
        yield step, None
    while row is not None:
        yield None, row[1:]
        row = next(rows, None)


def _reads_as_it_ends(plan: Plan, step: Step) -> bool:
    """An interrupt still reads at the instant at which its program stops or stands."""
    return plan.rx.interrupt == 1 and step.kind in (PROGRAM_STOPS, PROGRAM_PAUSES)


def _program_steps(plan: Plan) -> list[Step]:
    kinds = (PROGRAM_STARTS, PROGRAM_STOPS, PROGRAM_PAUSES, PROGRAM_RESUMES)
    return [s for s in plan.steps if s.unit == len(plan.tx) and s.kind in kinds]


@functools.cache
def _loops(is_compiled: bool) -> tuple[Callable[..., Any], ...]:
    """The three entries of the fold."""
    entries = (parts.fold_passes, parts.fold_step, parts.fold_idle)
    loaded = load_fast()
    if isinstance(loaded, str) or not is_compiled:
        return entries
    return tuple(loaded.compiled_loop(entry) for entry in entries)


_COUNTS = {
    "timer": MOST_STREAMS,
    "timer_of": MOST_STREAMS,
    "latched": MOST_STREAMS,
    "unwritten": MOST_STREAMS,
    "work": MOST_WORKS,
    "deaf": MOST_WORKS,
    "event": EVENTS + MARGIN,
}


def _record_of(plan: Plan, timers: Timers) -> Record:
    """The fold before anything has happened, as a record of compiled code."""
    p = np.zeros(1, dtype_of(ProgramState, _COUNTS))[0]
    fill(p["rx"], plan.rx)
    p["streams"], p["timers"] = len(plan.tx), len(timers)
    p["timer_of"] = p["latched"] = -1
    for k, (stream, described) in enumerate(timers):
        p["timer_of"][stream] = k
        for name, value in timer_of(plan, stream, described).items():
            p["timer"][k][name] = value
    return p


def _object_of(plan: Plan, timers: Timers) -> Record:
    """The same as a plain object."""
    p = blank(ProgramState, _COUNTS | {"work": 0, "deaf": 0})
    p.rx, p.streams, p.timers = plan.rx, len(plan.tx), len(timers)
    p.timer_of, p.latched = [-1] * MOST_STREAMS, [-1] * MOST_STREAMS
    for k, (stream, described) in enumerate(timers):
        p.timer_of[stream] = k
        vars(p.timer[k]).update(timer_of(plan, stream, described))
    return p


def timer_of(plan: Plan, stream: int, described: Failsafe) -> dict[str, float]:
    """A timer as the scene describes it, by the receiver's clock."""
    needs, layout = described.resume_needs, plan.payloads[stream].layout
    neutral = 0.0 if needs is None else layout.fields[layout.index_of(needs.field)].neutral
    return {
        "stream": stream,
        "timeout_ns": scaled(ns_from_ms(described.timeout_ms), plan.rx.ppb),
        "fed_by_any": int(described.fed_by == "any"),
        "fed_at_arrival": int(described.fed_at == "arrival"),
        "resume_frames": described.resume_frames,
        "watches": int(bool(described.watch_field)),
        "needs": int(needs is not None),
        "within": 0.0 if needs is None else needs.within,
        "neutral": neutral,
        "is_on": 1,
    }


def _emptied(p: Record) -> Instants:
    """Hand the events over, one a row, and start afresh."""
    columns = len(get_type_hints(EventRecord))
    if isinstance(p, np.void):
        events = p["event"][: p["events"]].copy().view(np.int64)
        p["events"] = 0
    else:
        events = np.array([[*vars(e).values()] for e in p.event[: p.events]], np.int64)
        p.events = 0
    rows: Instants = events.reshape(-1, columns)
    return rows


def _record(trace: Trace, plan: Plan, stream: int, events: Instants) -> StreamRecord:
    """The events of one stream, its entries and its time in failsafe."""
    mine = events[events[:, 0] == stream]
    entries, on_ns, entered_ns = [], 0, -1
    spans = _blocked_spans(trace, plan, stream)
    for _, at_ns, kind, _, fed_ns in mine[mine[:, 2] != WRITTEN].tolist():
        if kind == FAILSAFE:
            is_true = any(since <= at_ns and until >= fed_ns for since, until in spans)
            entries.append(Entry(at_ns=at_ns, fed_ns=fed_ns, is_true=is_true))
            entered_ns = at_ns
        elif kind in (LEFT, STOPPED) and entered_ns >= 0:
            on_ns, entered_ns = on_ns + at_ns - entered_ns, -1
    if entered_ns >= 0:
        on_ns += plan.until_ns - entered_ns
    shown = mine[mine[:, 2] != LEFT]
    return StreamRecord(table=shown[:, 1:4].copy(), entries=tuple(entries), on_ns=on_ns)


def _blocked_spans(trace: Trace, plan: Plan, stream: int) -> list[tuple[int, int]]:
    """When a stream's sender or the receiver was not as it should be (rule F5).

    Frozen values block only a timer that watches a field.
    """
    described = trace.scenario.failsafe.get(plan.streams[stream])
    is_blind = described is None or not described.watch_field
    spans: list[tuple[int, int]] = []
    for unit in (stream, len(plan.tx)):
        steps = [
            step
            for step in plan.steps
            if step.unit == unit and not (is_blind and step.kind in (VALUES_FREEZE, VALUES_THAW))
        ]
        spans.extend(impaired_spans(steps, plan.until_ns))
    return spans
