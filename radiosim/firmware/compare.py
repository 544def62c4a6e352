"""What a receiver's program did beside what the model predicted: reads, outputs, failsafe."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from radiosim.engine.plan import Plan
from radiosim.firmware.all_passes import each_pass
from radiosim.firmware.ramps import Course, Levels, Times, ramped
from radiosim.firmware.script import (
    FAILSAFE_STATE,
    PULSE,
    STOPS,
    Reply,
    Script,
    receiver_steps,
)
from radiosim.scenario import Scenario
from radiosim.trace import READ, THROWN_AWAY, Trace
from radiosim.units import NS_PER_MS, NS_PER_US
from radiosim.vehicle.fold.program_state import FAILSAFE, STARTED, STOPPED
from radiosim.vehicle.reaction_bound import longest_pass_ns
from radiosim.vehicle.vehicle import StreamRecord, VehicleRecord

TICK_NS = NS_PER_MS
"""One step of the clock that a program counts by: rx_ms."""
WIDTH_NS = NS_PER_US
"""How far a pulse may be off: rx_pulse takes whole microseconds."""
WIDTHS = {"servo": float(WIDTH_NS), "pwm": 1.0, "pin": 1e-9}
"""How far a level may be off, by kind of output: rx_level of a pwm rounds to a whole number."""
NOT_READ = -1


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """A time in which the program differs from the prediction."""

    from_ns: int
    until_ns: int
    predicted: float
    """Level at its beginning: a pulse in ns; NaN: none, or the pin is released."""
    real: float

    @property
    def length_ns(self) -> int:
        """How long it lasts."""
        return self.until_ns - self.from_ns


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """One output, or what one stream's failsafe is said to be."""

    name: str
    spans: tuple[Span, ...]
    """Longer than the tolerance, in order."""
    short: int
    """Spans that are not."""
    longest_short_ns: int
    changes: int
    """Changes of level that were predicted."""
    moves: bool
    """Whether more than one level was predicted, no pulses at all aside."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadElsewhere:
    """The first frame that the program did not read when the model does."""

    stream: str
    accepted_ns: int
    predicted_ns: int
    """NOT_READ: never."""
    real_ns: int

    @property
    def at_ns(self) -> int:
        """When the two part: the earlier of the two reads that there are."""
        return min(ns for ns in (self.predicted_ns, self.real_ns) if ns != NOT_READ)


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """A start's program beside the model."""

    frames: int
    """That stood in the FIFO."""
    reads: int
    """Those among them that were read, or left unread, as predicted."""
    first_elsewhere: ReadElsewhere | None
    outputs: tuple[Compared, ...]
    failsafe: tuple[Compared, ...]
    """Of streams of whose failsafe the program told something."""
    tolerance_ns: int

    @property
    def is_held(self) -> bool:
        """Whether the program did what was predicted."""
        all_of = (*self.outputs, *self.failsafe)
        return self.first_elsewhere is None and not any(one.spans for one in all_of)


def tolerance_ns(plan: Plan) -> int | None:
    """How long a program may be late: a step of its clock, and the longest pass; None: no end."""
    pass_ns, tick_ns = longest_pass_ns(plan), max(TICK_NS, plan.rx.tick_ns)
    return None if pass_ns is None else pass_ns + round(tick_ns * (1 + abs(plan.rx.ppb) / 1e9)) + 1


def difference(
    scenario: Scenario,
    plan: Plan,
    trace: Trace,
    record: VehicleRecord,
    script: Script,
    reply: Reply,
    tolerance: int,
) -> Difference:
    """The program's reply beside the trace and what the model's vehicle made of it."""
    stops = _stops(plan)
    elsewhere = list(reads_elsewhere(plan, trace, script, reply))
    outputs = []
    is_any = any(output.smoothing_us_per_pass for output in scenario.output.values())
    starts = each_pass(plan, trace) if is_any else stops
    for number, (name, output) in enumerate(scenario.output.items()):
        told, has_pulses = record.outputs[name].told, output.kind == "servo"
        level = np.asarray(told["level"], np.float64)
        # A pin that is released is as one that is off.
        before = np.nan if has_pulses else 0.0
        model = Course(at_ns=told["at_ns"], level=np.nan_to_num(level, nan=before), before=before)
        if output.smoothing_us_per_pass and has_pulses:
            model = ramped(told, starts, output)
        real = of_output(reply, stops, number, before)
        width = WIDTHS[output.kind]
        outputs.append(compared(name, model, real, plan.until_ns, tolerance, width))
    return Difference(
        frames=len(script.rows),
        reads=len(script.rows) - len(elsewhere),
        first_elsewhere=min(elsewhere, key=lambda one: one.at_ns, default=None),
        outputs=tuple(outputs),
        failsafe=tuple(_failsafes(scenario, plan, record, reply, stops, tolerance)),
        tolerance_ns=tolerance,
    )


def reads_elsewhere(
    plan: Plan, trace: Trace, script: Script, reply: Reply
) -> Iterator[ReadElsewhere]:
    """Frames that were not read at the very pass that was predicted."""
    reads = trace.reads[script.rows]
    is_seen = np.isin(reads["outcome"], (READ, THROWN_AWAY))
    predicted = np.where(is_seen, reads["read_ns"], NOT_READ)
    real = np.full(len(reads), NOT_READ, np.int64)
    real[reply.takes["row"]] = reply.takes["at_ns"]
    for row in np.flatnonzero(predicted != real).tolist():
        yield ReadElsewhere(
            stream=plan.streams[int(reads["stream"][row])],
            accepted_ns=int(reads["accepted_ns"][row]),
            predicted_ns=int(predicted[row]),
            real_ns=int(real[row]),
        )


def _stops(plan: Plan) -> Times:
    steps = receiver_steps(plan)
    stopped: Times = steps["at_ns"][steps["kind"] == STOPS]
    return stopped


def of_output(reply: Reply, stops: Times, number: int, before: float) -> Course:
    """What one output was told, `before` from each stop of the program on; pulses in ns."""
    outs = reply.outs
    mine = outs[(outs["output"] == number) & (outs["kind"] != FAILSAFE_STATE)]
    level = mine["value"].astype(np.float64)
    is_pulse = mine["kind"] == PULSE
    level = np.where(is_pulse & (level == 0), np.nan, np.where(is_pulse, level * NS_PER_US, level))
    return _with_stops(mine["at_ns"], level, stops, before)


def _with_stops(at_ns: Any, level: Levels, stops: Times, stopped: float) -> Course:
    """A course that ends at each stop of the program; a boot at the same instant comes after."""
    times = np.concatenate((stops, np.asarray(at_ns, np.int64)))
    levels = np.concatenate((np.full(len(stops), stopped), level))
    order = np.argsort(times, kind="stable")
    return Course(at_ns=times[order], level=levels[order], before=stopped)


_ON, _OFF, _DOWN = 1.0, 0.0, 2.0


def _failsafes(
    scenario: Scenario,
    plan: Plan,
    record: VehicleRecord,
    reply: Reply,
    stops: Times,
    tolerance: int,
) -> Iterator[Compared]:
    """Failsafe of each stream as the program tells it; it is on from a boot until it says else."""
    outs = reply.outs[reply.outs["kind"] == FAILSAFE_STATE]
    for stream, name in enumerate(plan.streams):
        mine = outs[outs["output"] == scenario.transmitter[name].pipe]
        if name not in scenario.failsafe or not len(mine):
            continue
        model = _model_failsafe(record.streams[stream])
        boots = _boots(record.streams[stream])
        at_ns = np.concatenate((boots, mine["at_ns"]))
        level = np.concatenate((np.full(len(boots), _ON), mine["value"].astype(np.float64)))
        real = _with_stops(at_ns, level, stops, _DOWN)
        yield compared(name, model, real, plan.until_ns, tolerance, 0.5)


def _boots(record: StreamRecord) -> Times:
    table = record.table
    booted: Times = table["at_ns"][table["kind"] == STARTED]
    return booted


def _model_failsafe(record: StreamRecord) -> Course:
    table = record.table
    # At one instant: down, up again, a read that ends failsafe, and the look after it (F1, F2).
    kinds = {STOPPED: (0, _DOWN), STARTED: (1, _ON), FAILSAFE: (3, _ON)}
    kept = table[np.isin(table["kind"], tuple(kinds))]
    rows = [
        (at_ns, *kinds[kind])
        for at_ns, kind in zip(kept["at_ns"].tolist(), kept["kind"].tolist(), strict=True)
    ]
    rows += [(at_ns, 2, _OFF) for at_ns in record.left_ns]
    rows.sort()
    return Course(
        at_ns=np.array([row[0] for row in rows], np.int64),
        level=np.array([row[2] for row in rows], np.float64),
    )


def compared(
    name: str, model: Course, real: Course, until_ns: int, tolerance: int, width: float
) -> Compared:
    """Where two courses differ: by more than `width`, for longer than `tolerance` ns or not."""
    model, real = changes_of(model), changes_of(real)
    times = np.unique(np.concatenate((model.at_ns, real.at_ns)))
    times = times[times < until_ns]
    predicted, found = level_at(model, times), level_at(real, times)
    bad = _differs(predicted, found, width)
    edges = np.diff(np.concatenate(([0], bad.astype(np.int8), [0])))
    ends = np.append(times, until_ns)
    spans = [
        Span(
            from_ns=int(times[first]),
            until_ns=int(ends[last]),
            predicted=float(predicted[first]),
            real=float(found[first]),
        )
        for first, last in zip(np.flatnonzero(edges == 1), np.flatnonzero(edges == -1), strict=True)
    ]
    short = [span.length_ns for span in spans if span.length_ns <= tolerance]
    return Compared(
        name=name,
        spans=tuple(span for span in spans if span.length_ns > tolerance),
        short=len(short),
        longest_short_ns=max(short, default=0),
        changes=len(model.at_ns),
        moves=len(np.unique(model.level[~np.isnan(model.level)])) > 1,
    )


def changes_of(course: Course) -> Course:
    """Only what changes something; of several at one instant the last."""
    if not len(course.at_ns):
        return course
    last = np.append(course.at_ns[1:] != course.at_ns[:-1], True)
    at_ns, level = course.at_ns[last], course.level[last]
    before = np.append(course.before, level[:-1])
    moved = ~((level == before) | (np.isnan(level) & np.isnan(before)))
    return Course(at_ns=at_ns[moved], level=level[moved], before=course.before)


def level_at(course: Course, times: Times) -> Levels:
    """The level of a course at some instants."""
    if not len(course.at_ns):
        return np.full(len(times), course.before)
    row = np.searchsorted(course.at_ns, times, side="right") - 1
    return np.where(row >= 0, course.level[np.maximum(row, 0)], course.before)


def _differs(a: Levels, b: Levels, width: float) -> npt.NDArray[np.bool_]:
    with np.errstate(invalid="ignore"):
        return ~((np.isnan(a) & np.isnan(b)) | (np.abs(a - b) <= width))
