"""What the receiver's program does with what it reads: timers, latches, writes (rules E and F)."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple

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
from radiosim.engine.rules.passes import pass_from, pass_length
from radiosim.engine.timeline import impaired_spans
from radiosim.trace import READ, THROWN_AWAY, Trace
from radiosim.vehicle.timer import Entry, Timer
from radiosim.vehicle.values import ReadValues

STARTED, STOPPED, WRITTEN, FAILSAFE = range(4)


class Event(NamedTuple):
    """Something that outputs of a stream see, at the start of a pass or at a step."""

    at_ns: int
    kind: int
    read: int
    """Row of the trace's reads whose values are written; -1 for other kinds."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StreamRecord:
    """What the program did for one stream."""

    events: tuple[Event, ...]
    entries: tuple[Entry, ...]
    on_ns: int
    """Time in failsafe, counted from entries (the state after boot is none)."""


def run_program(
    trace: Trace, plan: Plan, values: ReadValues | None = None
) -> tuple[StreamRecord, ...]:
    """What the program did in one start, by stream; `values` as for outputs."""
    return _Program(trace, plan, values or ReadValues(trace, plan)).run()


Agenda = Iterator[tuple[Step | None, tuple[int, int, int] | None]]


def agenda_of(trace: Trace, plan: Plan) -> Agenda:
    """Steps of the receiver's program and passes that read, in the order of rule T4.

    A pass is (start, start of the next, frames), as in the trace.
    """
    return _Program(trace, plan, ReadValues(trace, plan)).agenda()


class _Reads:
    """The reads that the program made, and all arrivals, as plain lists."""

    def __init__(self, trace: Trace) -> None:
        table = trace.reads
        self.arrived = list(zip(*(table[name].tolist() for name in _ARRIVAL), strict=True))
        seen = (table["outcome"] == READ) | (table["outcome"] == THROWN_AWAY)
        self.row = seen.nonzero()[0].tolist()
        mine = table[seen]
        self.stream, self.at_ns, self.outcome = (mine[name].tolist() for name in _READING)


_ARRIVAL = ("accepted_ns", "stream")
_READING = ("stream", "read_ns", "outcome")


class _Program:
    """The receiver's program once more, beside the link: its passes, timers and latches."""

    def __init__(self, trace: Trace, plan: Plan, values: ReadValues) -> None:
        self.plan, self.rx, n = plan, plan.rx, len(plan.tx)
        self.reads, self.values = _Reads(trace), values
        self.passes = list(zip(*(trace.passes[c].tolist() for c in _PASS), strict=True))
        self.timers = [
            Timer(i, trace.scenario.failsafe[name], plan.payloads[i].layout, plan.rx.ppb)
            for i, name in enumerate(plan.streams)
            if name in trace.scenario.failsafe
        ]
        self.watched = [self.column(timer, timer.watched, trace) for timer in self.timers]
        self.needed = [self.column(timer, timer.needed, trace) for timer in self.timers]
        """What the watched, or needed, field says in each row of the trace's reads."""
        self.timer_of = {timer.stream: timer for timer in self.timers}
        self.impaired = [self.blocked_spans(unit) for unit in range(n + 1)]
        self.events: list[list[Event]] = [[] for _ in range(n)]
        self.entries: list[list[Entry]] = [[] for _ in range(n)]
        self.on_ns = [0] * n
        self.entered_ns: list[int | None] = [None] * n
        self.latched: list[int | None] = [None] * n
        self.unwritten: set[int] = set()
        self.running = self.paused = False
        self.base_ns = self.previous_ns = self.next_ns = self.paused_ns = 0
        self.must_write = False
        """The pass at `next_ns` has reads of interrupts to write."""
        any_at_arrival = any(timer.fed_at_arrival for timer in self.timers)
        self.arrivals = self.reads.arrived if any_at_arrival else []
        self.arrival = 0

    def column(self, timer: Timer, field: int | None, trace: Trace) -> list[float]:
        """Values of one field of a timer's stream, row by row of the reads."""
        if field is None:
            return [0.0] * len(trace.reads)
        column: list[float] = self.values.column(timer.stream, field).tolist()
        return column

    def blocked_spans(self, unit: int) -> tuple[tuple[int, int], ...]:
        """When a unit was not as it should be; frozen values block only a timer that watches."""
        timer = self.timer_of.get(unit)
        is_blind = timer is None or timer.watched is None
        steps = [
            step
            for step in self.plan.steps
            if step.unit == unit and not (is_blind and step.kind in (VALUES_FREEZE, VALUES_THAW))
        ]
        return impaired_spans(steps, self.plan.until_ns)

    def run(self) -> tuple[StreamRecord, ...]:
        at = 0
        for step, row in self.agenda():
            if step is not None:
                self.idle_until(step.at_ns)
                self.take_step(step)
            elif row is not None:
                self.idle_until(self.reads.at_ns[at])
                self.take_pass(*row, at)
                at += row[2]
        self.idle_until(self.plan.until_ns)
        for stream in range(len(self.events)):
            self.leave(stream, self.plan.until_ns)
        return tuple(
            StreamRecord(events=tuple(events), entries=tuple(entries), on_ns=on_ns)
            for events, entries, on_ns in zip(self.events, self.entries, self.on_ns, strict=True)
        )

    def agenda(self) -> Agenda:
        receiver = len(self.plan.tx)
        steps = [s for s in self.plan.steps if s.unit == receiver and s.kind in _PROGRAM_STEPS]
        taken = at = 0
        for row in self.passes:
            read_ns = self.reads.at_ns[at]
            while taken < len(steps) and self.comes_first(steps[taken], read_ns):
                yield steps[taken], None
                taken += 1
            yield None, row
            at += row[2]
        for step in steps[taken:]:
            yield step, None

    def comes_first(self, step: Step, read_ns: int) -> bool:
        """Whether a step comes before a read; an interrupt still reads as its program stops."""
        if self.rx.interrupt and step.kind in (PROGRAM_STOPS, PROGRAM_PAUSES):
            return step.at_ns < read_ns
        return step.at_ns <= read_ns

    def take_step(self, step: Step) -> None:
        now = step.at_ns
        if step.kind == PROGRAM_STARTS:
            self.running, self.paused = True, False
            self.base_ns, self.previous_ns, self.next_ns = now, now - 1, now
            for timer in self.timers:
                timer.start(now)
            self.tell_all(Event(now, STARTED, -1))
        elif step.kind == PROGRAM_STOPS:
            self.running = self.paused = self.must_write = False
            self.latched = [None] * len(self.latched)
            self.unwritten.clear()
            self.tell_all(Event(now, STOPPED, -1))
            for stream in range(len(self.events)):
                self.leave(stream, now)
        elif step.kind == PROGRAM_PAUSES:
            _, self.previous_ns, self.next_ns = self.passes_until(now)
            self.paused, self.paused_ns = True, now
        else:
            self.paused = False
            self.next_ns += now - self.paused_ns

    def tell_all(self, event: Event) -> None:
        for events in self.events:
            events.append(event)

    def passes_until(self, at_ns: int) -> tuple[int, int, int]:
        return pass_from(self.rx, self.base_ns, self.previous_ns, self.next_ns, at_ns)

    def idle_until(self, at_ns: int) -> None:
        """Every pass before `at_ns` that read nothing: looks, and writes what interrupts read."""
        if self.must_write and not self.paused and self.next_ns < at_ns:
            start_ns = self.next_ns
            self.arrive_until(start_ns)
            self.look(start_ns)
            self.write(start_ns)
            self.must_write = False
            length_ns = pass_length(self.rx, self.base_ns, self.previous_ns, start_ns, 0)
            self.previous_ns, self.next_ns = start_ns, start_ns + length_ns
        self.arrive_until(at_ns)
        self.expire_until(at_ns)

    def arrive_until(self, at_ns: int) -> None:
        """Feed timers that are fed at arrival, expiring between arrivals."""
        while self.arrival < len(self.arrivals) and self.arrivals[self.arrival][0] <= at_ns:
            row, (accepted_ns, stream) = self.arrival, self.arrivals[self.arrival]
            self.arrival += 1
            if self.running:
                self.expire_until(accepted_ns)
                for timer, watched in zip(self.timers, self.watched, strict=True):
                    timer.arrives(stream, accepted_ns, watched[row])

    def expire_until(self, at_ns: int) -> None:
        """Timers that run out are found at the first idle pass after that (rule F2)."""
        if not self.running or self.paused:
            return
        for timer in self.timers:
            over_ns = timer.fed_ns + timer.timeout_ns + 1
            if timer.is_on or over_ns >= at_ns:
                continue
            found_ns = self.passes_until(over_ns)[2]
            if found_ns < at_ns:
                self.enter(timer, found_ns)

    def look(self, start_ns: int) -> None:
        """The look of one pass (rule F2)."""
        for timer in self.timers:
            if not timer.is_on and start_ns - timer.fed_ns > timer.timeout_ns:
                self.enter(timer, start_ns)

    def enter(self, timer: Timer, at_ns: int) -> None:
        """Failsafe comes on."""
        stream, fed_ns = timer.stream, timer.fed_ns
        spans = (*self.impaired[stream], *self.impaired[len(self.plan.tx)])
        is_true = any(since <= at_ns and until >= fed_ns for since, until in spans)
        self.entries[stream].append(Entry(at_ns=at_ns, fed_ns=fed_ns, is_true=is_true))
        self.events[stream].append(Event(at_ns, FAILSAFE, -1))
        self.entered_ns[stream] = at_ns
        timer.enter()

    def leave(self, stream: int, at_ns: int) -> None:
        """Failsafe ends, or the program does."""
        entered_ns = self.entered_ns[stream]
        if entered_ns is not None:
            self.on_ns[stream] += at_ns - entered_ns
        self.entered_ns[stream] = None

    def take_pass(self, start_ns: int, next_ns: int, frames: int, at: int) -> None:
        """A pass with reads; those of a polling program come at its start (rules E1, E2)."""
        self.previous_ns, self.next_ns = start_ns, next_ns
        for index in range(at, at + frames):
            self.arrive_until(self.reads.at_ns[index])
            if self.reads.outcome[index] == READ:
                self.feed(index)
        if self.rx.interrupt:
            self.must_write = True
        else:
            self.look(start_ns)
            self.write(start_ns)

    def feed(self, index: int) -> None:
        """One frame read: latch it, feed the timers, end failsafe where that is due (F1, F3)."""
        reads = self.reads
        stream, now = reads.stream[index], reads.at_ns[index]
        self.latched[stream] = index
        self.unwritten.add(stream)
        row = reads.row[index]
        for timer, watched, needed in zip(self.timers, self.watched, self.needed, strict=True):
            if timer.is_read(stream, now, watched[row]):
                held = self.latched[timer.stream]
                if timer.may_resume(None if held is None else needed[reads.row[held]]):
                    timer.is_on = False
                    self.leave(timer.stream, now)
                    self.unwritten.add(timer.stream)

    def write(self, start_ns: int) -> None:
        """Write what was latched, but for streams in failsafe."""
        for stream in sorted(self.unwritten):
            timer, latched = self.timer_of.get(stream), self.latched[stream]
            if latched is not None and not (timer and timer.is_on):
                self.events[stream].append(Event(start_ns, WRITTEN, self.reads.row[latched]))
        self.unwritten.clear()


_PASS = ("start_ns", "next_ns", "frames")
_PROGRAM_STEPS = (PROGRAM_STARTS, PROGRAM_STOPS, PROGRAM_PAUSES, PROGRAM_RESUMES)
