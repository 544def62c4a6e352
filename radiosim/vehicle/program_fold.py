"""Fields of frames, as folds read them."""

import functools
from collections.abc import Iterator, Sequence
from typing import Any

import msgspec
import numpy as np

from radiosim.engine.jit import RECEIVER_COUNTS, JitBackend, Record, Rows
from radiosim.engine.payload import Payload
from radiosim.engine.plan import Plan
from radiosim.engine.plan_rows import (
    PROGRAM_PAUSES,
    PROGRAM_RESUMES,
    PROGRAM_STARTS,
    PROGRAM_STOPS,
    Rx,
    Step,
)
from radiosim.engine.rules.timing import scaled
from radiosim.engine.timeline import FOREVER_NS
from radiosim.layout.field import wire_of
from radiosim.scenario import Scenario
from radiosim.scenario.structs.failsafe_and_fault import Failsafe
from radiosim.signals.course import MOST_NUMBERS
from radiosim.trace import DTYPES, Table, table_dtype
from radiosim.units import ns_from_ms
from radiosim.vehicle.fold import program_passes as parts
from radiosim.vehicle.fold.program_state import (
    MOST_STREAMS,
    Columns,
    EventRecord,
    ProgramState,
    ToldPass,
    WalkPass,
    WalkStep,
)

COUNTS = {"numbers": MOST_NUMBERS}
_WIRE = ("float_bits", "scale", "neutral", "offset", "low", "high")


class Points:
    """Points of the signals of several fields, one after the other."""

    def __init__(self) -> None:
        self._rows: list[tuple[float, float]] = []

    def add(self, points: tuple[tuple[float, ...], ...]) -> int:
        """Where some points begin."""
        first = len(self._rows)
        self._rows += [(point[0], point[-1]) for point in points]
        return first

    def table(self, backend: JitBackend) -> Any:
        """All of them, at least one."""
        return backend.numbers(np.array(self._rows or [(0.0, 0.0)], np.float64))


def set_field(
    backend: JitBackend, record: Record, payload: Payload, field: int, points: Points
) -> None:
    """Set a FieldState to one field of a stream's frames."""
    sensor, place = payload.sensors[field], payload.layout.fields[field]
    course = sensor.signal.course(sensor.span)
    backend.set(
        record,
        kind=course.kind,
        first=points.add(course.points),
        count=len(course.points),
        every_ns=sensor.every_ns,
        bits=place.bits,
        is_signed=int(place.kind == "signed"),
        **dict(zip(_WIRE, wire_of(place), strict=True)),
    )
    numbers = backend.get(record, "numbers")
    for k, number in enumerate(course.numbers):
        numbers[k] = number
    set_drawn(backend, record, payload, field)


def set_drawn(backend: JitBackend, record: Record, payload: Payload, field: int) -> None:
    """Set what a start draws for a field: the phase of its sensor, and what noise says in it."""
    key = payload.noise_key(field)
    phase_ns = payload.sensors[field].phase_ns
    backend.set(record, phase_ns=phase_ns, key_low=key.low, key_high=key.high)


NO_PASSES = np.zeros(0, table_dtype(WalkPass))
EVENTS = 4_096
"""Events after which the fold hands over."""


class Batch(msgspec.Struct, frozen=True, kw_only=True):
    """What the program did since the batch before; overwritten by the next."""

    events: Table
    """Events in order of time; see EventRecord."""
    rows: Rows
    """The events as folds take them."""
    has_only_writes: bool
    """All of them are WRITTEN, as almost always."""
    passes: Table
    """Passes that read frames, if they are asked for; see WalkPass."""
    until_ns: int
    """No event before this instant is still to come."""


class ProgramMoment(msgspec.Struct, frozen=True):
    """All that a fold of the program holds."""

    state: Record
    reads: Table
    passes: Table
    stepped: int


class ProgramFold:
    """The program of one start, folded over reads and passes as they come.

    What it makes does not depend on how the rows are cut. It holds back the rows of a pass that
    may not be over and, where a timer is fed at arrival, those that a later row may come before.
    Events gather until they are some thousand; `tells_passes`: with each chunk they are handed
    over, and the passes with them.
    """

    def __init__(
        self, scenario: Scenario, plan: Plan, backend: JitBackend, *, tells_passes: bool = False
    ) -> None:
        self._plan, self._machine = plan, backend
        self._steps = program_steps(plan)
        self._stepped = 0
        self._tells_passes = tells_passes
        self._reads = np.zeros(0, DTYPES["reads"])
        self._passes = np.zeros(0, DTYPES["passes"])
        self._fold_passes = backend.entry(parts.fold_passes)
        self._fold_step = backend.entry(parts.fold_step)
        self._fold_idle = backend.entry(parts.fold_idle)
        self.state, self.points = state_of(scenario, plan, backend)
        backend.set(self.state, tells_passes=int(tells_passes))

    # Room is made when rows go by: a start in one call has its own.
    @functools.cached_property
    def _events(self) -> Rows:
        return self._machine.room(EventRecord, 2 * EVENTS)

    @functools.cached_property
    def _told(self) -> Rows:
        return self._machine.room(ToldPass, EVENTS if self._tells_passes else 1)

    def moment(self) -> ProgramMoment:
        """What it holds now, if it tells passes: then no events are left in it."""
        return ProgramMoment(
            self._machine.copied(self.state), self._reads, self._passes, self._stepped
        )

    def go_back(self, moment: ProgramMoment, plan: Plan) -> None:
        """Goes back to a moment, to go on by a plan that had the same past."""
        self.state = self._machine.copied(moment.state)
        self._reads, self._passes, self._stepped = moment.reads, moment.passes, moment.stepped
        self._plan, self._steps = plan, program_steps(plan)

    def take(self, reads: Table, passes: Table) -> Iterator[Batch]:
        """What more rows make known, some thousand events at a time."""
        self._reads = np.concatenate((self._reads, reads)) if len(self._reads) else reads
        self._passes = np.concatenate((self._passes, passes)) if len(self._passes) else passes
        known_ns = int(self._reads["accepted_ns"][-1]) if len(self._reads) else 0
        yield from self._advance(self._columns(known_ns), is_last=False)
        self._keep()

    def finish(self) -> Iterator[Batch]:
        """The last events: no more rows come."""
        columns = self._columns(FOREVER_NS)
        yield from self._advance(columns, is_last=True)
        self._fold_idle(self.state, columns, self._events, self._plan.until_ns)
        yield self._emptied()

    def _advance(self, columns: Columns, *, is_last: bool) -> Iterator[Batch]:
        """Take passes and steps in the order of rule T4, as far as the rows at hand go."""
        p = self.state
        while True:
            step = self._steps[self._stepped] if self._stepped < len(self._steps) else None
            limit_ns = FOREVER_NS if step is None else step.at_ns
            is_included = step is None or reads_as_it_ends(self._plan, step)
            why = self._fold_passes(self.state, columns, self._events, limit_ns, is_included)
            events = int(self._machine.get(self.state, "events"))
            if why == parts.FULL and events == 0 and not self._machine.get(p, "told_passes"):
                # One pass that reads more than all the room there is.
                self._events = self._machine.room(EventRecord, 2 * len(self._events))
            elif why == parts.FULL or events + parts.ROOM > len(self._events):
                yield self._emptied()
            elif step is None or (why == parts.WANTS_ROWS and not is_last):
                if self._tells_passes or is_last or events >= EVENTS:
                    yield self._emptied()
                return
            else:
                self._fold_step(self.state, columns, self._events, step.kind, step.at_ns)
                self._stepped += 1

    def _columns(self, known_ns: int) -> Columns:
        """The rows at hand."""
        return Columns(
            passes=self._machine.rows(self._passes),
            reads=self._machine.rows(self._reads),
            known_ns=known_ns,
            points=self.points,
            told=self._told,
        )

    def _emptied(self) -> Batch:
        """Hand the events over and start afresh."""
        backend, p = self._machine, self.state
        events = int(backend.get(p, "events"))
        has_only_writes = backend.get(p, "writes") == events
        batch = Batch(
            events=backend.table(EventRecord, self._events, events),
            rows=self._events[:events],
            has_only_writes=bool(has_only_writes),
            passes=backend.table(ToldPass, self._told, int(backend.get(p, "told_passes"))),
            until_ns=int(backend.get(p, "told_ns")),
        )
        backend.set(p, events=0, writes=0, told_passes=0)
        return batch

    def _keep(self) -> None:
        """Let go of the rows that were taken."""
        backend, p = self._machine, self.state
        taken, arrived = int(backend.get(p, "taken_reads")), int(backend.get(p, "taken_arrivals"))
        done = min(taken, arrived) if backend.get(p, "is_fed_at_arrival") else taken
        # What is left is copied: the tables that it stands in are overwritten by the next chunk.
        self._reads = self._reads[done:].copy()
        self._passes = self._passes[int(backend.get(p, "taken_passes")) :].copy()
        backend.set(
            p,
            rows=int(backend.get(p, "rows")) + done,
            taken_reads=taken - done,
            taken_arrivals=max(0, arrived - done),
            taken_passes=0,
        )


def reads_as_it_ends(plan: Plan, step: Step) -> bool:
    """An interrupt still reads at the instant at which its program stops or stands."""
    return plan.rx.interrupt == 1 and step.kind in (PROGRAM_STOPS, PROGRAM_PAUSES)


def program_steps(plan: Plan) -> list[Step]:
    """What happens to the receiver's program from outside, in order."""
    kinds = (PROGRAM_STARTS, PROGRAM_STOPS, PROGRAM_PAUSES, PROGRAM_RESUMES)
    return [s for s in plan.steps if s.unit == len(plan.tx) and s.kind in kinds]


def walk_steps(plan: Plan) -> Table:
    """The program's steps as passes are counted by; see WalkStep."""
    rows = [
        WalkStep(step.at_ns, step.kind, int(reads_as_it_ends(plan, step)))
        for step in program_steps(plan)
    ]
    return np.array(rows, table_dtype(WalkStep))


_COUNTS = (
    dict.fromkeys(("timer", "timer_of", "latched", "unwritten"), MOST_STREAMS)
    | RECEIVER_COUNTS
    | COUNTS
)


def state_of(scenario: Scenario, plan: Plan, backend: JitBackend) -> tuple[Record, Any]:
    """The fold before anything has happened, and the points of the fields that timers read."""
    timers = [
        (stream, scenario.failsafe[name])
        for stream, name in enumerate(plan.streams)
        if name in scenario.failsafe
    ]
    (p,), (rx, points) = backend.moulded(
        scenario, "program", lambda: _mould_of(plan, timers, backend)
    )
    draw_program(backend, p, scenario, plan, rx)
    return p, points


def draw_program(backend: JitBackend, p: Record, scenario: Scenario, plan: Plan, was: Rx) -> None:
    """Set what clocks and draws of a start make of the fold; `was`: the receiver that it has."""
    backend.fill(backend.get(p, "rx"), plan.rx, was)
    described_of = (scenario.failsafe.get(name) for name in plan.streams)
    timers = [(k, described) for k, described in enumerate(described_of) if described is not None]
    for timer, (stream, described) in zip(backend.get(p, "timer"), timers, strict=False):
        payload = plan.payloads[stream]
        timeout_ns = scaled(ns_from_ms(described.timeout_ms), plan.rx.ppb)
        backend.set(timer, timeout_ns=timeout_ns, ppb=plan.rx.ppb)
        for name, field in fields_of(described).items():
            index = payload.layout.index_of(field)
            set_drawn(backend, backend.get(timer, name), payload, index)


def _mould_of(
    plan: Plan, timers: Sequence[tuple[int, Failsafe]], backend: JitBackend
) -> tuple[Rows, tuple[Rx, Any]]:
    """The fold as it is in every start, but for what a start draws; the receiver that it has."""
    made, points = backend.records(ProgramState, 1, _COUNTS), Points()
    p = made[0]
    backend.fill(backend.get(p, "rx"), plan.rx)
    backend.set(
        p,
        streams=len(plan.tx),
        timers=len(timers),
        is_fed_at_arrival=int(any(timer.fed_at == "arrival" for _, timer in timers)),
    )
    timer_of_stream, latched = backend.get(p, "timer_of"), backend.get(p, "latched")
    for stream in range(MOST_STREAMS):
        backend.set(latched[stream], read=-1)
        timer_of_stream[stream] = -1
    for k, (stream, described) in enumerate(timers):
        timer_of_stream[stream] = k
        timer, payload = backend.get(p, "timer")[k], plan.payloads[stream]
        backend.set(timer, **timer_of(plan, stream, described))
        for name, field in fields_of(described).items():
            index = payload.layout.index_of(field)
            set_field(backend, backend.get(timer, name), payload, index, points)
    return made, (plan.rx, points.table(backend))


def fields_of(described: Failsafe) -> dict[str, str]:
    """The fields that a timer reads, by what it reads them for."""
    needs = described.resume_needs
    watched = {"watched": described.watch_field} if described.watch_field else {}
    return watched | ({} if needs is None else {"needed": needs.field})


def timer_of(plan: Plan, stream: int, described: Failsafe) -> dict[str, float]:
    """A timer as the scenario describes it, by the receiver's clock."""
    needs, layout = described.resume_needs, plan.payloads[stream].layout
    neutral = 0.0 if needs is None else layout.fields[layout.index_of(needs.field)].neutral
    timeout_ns, tick_ns = ns_from_ms(described.timeout_ms), plan.rx.tick_ns
    return {
        "stream": stream,
        "timeout_ns": scaled(timeout_ns, plan.rx.ppb),
        "tick_ns": tick_ns,
        "ppb": plan.rx.ppb,
        "timeout_ticks": timeout_ns // tick_ns if tick_ns else 0,
        "fed_by_any": int(described.fed_by == "any"),
        "fed_at_arrival": int(described.fed_at == "arrival"),
        "resume_frames": described.resume_frames,
        "watches": int(bool(described.watch_field)),
        "needs": int(needs is not None),
        "within": 0.0 if needs is None else needs.within,
        "neutral": neutral,
        "is_on": 1,
    }
