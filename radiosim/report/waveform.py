"""Waveform files: what is on the air, and what radios, programs and outputs do, as lines."""

import io
import math
import re
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from heapq import merge
from itertools import accumulate

import msgspec
from msgspec.structs import replace

from radiosim.engine.plan import Plan, plan_of
from radiosim.engine.plan_rows import PROGRAM_PAUSES, PROGRAM_RESUMES, PROGRAM_STARTS, PROGRAM_STOPS
from radiosim.measure.by_program import record_of_start
from radiosim.report.files import ReportError
from radiosim.report.spans import (
    Span,
    deaf_spans,
    inside,
    radio_on_spans,
    receiver_settles,
    spans_between,
    spans_of,
    transmitter_waits,
    union,
    without,
)
from radiosim.safety import CAUTION
from radiosim.scenario import Scenario
from radiosim.trace import AcknowledgementFate, Fate, ReadOutcome, Trace
from radiosim.units import NS_PER_S
from radiosim.vehicle.fold.program_state import FAILSAFE, STARTED, STOPPED
from radiosim.vehicle.vehicle import (
    OutputRecord,
    StreamRecord,
    VehicleRecord,
    pass_starts,
)

Value = int | float | str
"""Of a wire or a number; "x" where it is neither 0 nor 1."""
Change = tuple[int, Value]
"""When, ns, and to what."""

REAL = 0
"""Bits of a signal that is no whole number."""
UNKNOWN = "x"


class Signal(msgspec.Struct, frozen=True, kw_only=True):
    """One line of a viewer."""

    scope: tuple[str, ...]
    name: str
    bits: int
    """1: a wire; REAL: a real number."""
    first: Value
    """At 0 ns, unless it changes there."""
    changes: tuple[Change, ...]
    """In order, one an instant, each to another value."""


def signal(
    scope: tuple[str, ...],
    name: str,
    changes: Iterable[Change],
    *,
    bits: int = 1,
    first: Value = 0,
) -> Signal:
    """A signal from its changes in any order; of those at one instant the last counts."""
    at_instant = dict(sorted(changes, key=lambda change: change[0]))
    kept: list[Change] = []
    value = first
    for at_ns, then in at_instant.items():
        if then != value:
            kept.append((at_ns, then))
            value = then
    return Signal(scope=scope, name=name, bits=bits, first=first, changes=tuple(kept))


def wire(scope: tuple[str, ...], name: str, spans: Iterable[Span]) -> Signal:
    """A wire that is 1 in some spans; what touches or overlaps is one span."""
    ends = ((span[0], 1, span[1], 0) for span in union(spans))
    changes = [change for a, up, b, down in ends for change in ((a, up), (b, down))]
    return signal(scope, name, changes)


def number(
    scope: tuple[str, ...], name: str, rows: Iterable[tuple[int, int, int]], *, bits: int
) -> Signal:
    """A whole number that stands in spans (start, end, number), and is 0 between them."""
    most = (1 << bits) - 1
    changes: dict[int, Value] = {}
    for start_ns, end_ns, value in rows:
        if end_ns > start_ns:
            changes[start_ns] = min(value, most)
            changes.setdefault(end_ns, 0)
    return signal(scope, name, changes.items(), bits=bits)


def until(signal: Signal, end_ns: int) -> Signal:
    """The signal without what comes after an instant."""
    kept = tuple(change for change in signal.changes if change[0] <= end_ns)
    return replace(signal, changes=kept)


ATTEMPT_BITS = 16


def transmitter_signals(trace: Trace, plan: Plan) -> Iterator[Signal]:
    """What each transmitter and its radio do."""
    for i, name in enumerate(plan.streams):
        scope = "transmitters", name
        mine = trace.attempts[trace.attempts["stream"] == i]
        acknowledgements = trace.acknowledgements[trace.acknowledgements["stream"] == i]
        spans, fates = spans_of(mine), mine["fate"].tolist()
        yield wire(scope, "on_air", spans)
        rows = [
            (*span, attempt) for span, attempt in zip(spans, mine["attempt"].tolist(), strict=True)
        ]
        yield number(scope, "attempt", rows, bits=ATTEMPT_BITS)
        lost = [span for span, fate in zip(spans, fates, strict=True) if fate >= Fate.FULL]
        yield wire(scope, "lost", lost)
        yield wire(scope, "acknowledged", spans_of(acknowledgements))
        is_lost = acknowledgements["fate"] != AcknowledgementFate.TAKEN
        yield wire(scope, "acknowledgement_lost", spans_of(acknowledgements[is_lost]))
        on = radio_on_spans(plan, i)
        yield wire(scope, "radio_on", on)
        settles, listens = transmitter_waits(trace, plan, i)
        yield wire(scope, "settles", inside(settles, on))
        yield wire(scope, "listens", inside(without(listens, settles), on))


def receiver_radio_signals(trace: Trace, plan: Plan) -> Iterator[Signal]:
    """What the receiver's radio does; it listens, except to acknowledge (rule D1)."""
    scope = ("receiver",)
    sends = spans_of(trace.acknowledgements)
    on = radio_on_spans(plan, len(plan.tx))
    settles = receiver_settles(plan, trace.acknowledgements)
    yield wire(scope, "acknowledges", sends)
    yield wire(scope, "radio_on", on)
    yield wire(scope, "settles", settles)
    yield wire(scope, "listens", without(on, (*sends, *settles, *deaf_spans(plan))))


SCOPE = ("receiver",)
COUNT_BITS = 8


def receiver_program_signals(trace: Trace, plan: Plan) -> Iterator[Signal]:
    """What waits in the FIFO, and what the program does about it."""
    reads = trace.reads
    is_over = reads["outcome"] != ReadOutcome.WAITING
    arrived = (reads["accepted_ns"] - plan.rx.interrupt_ns).tolist()
    left = reads["read_ns"][is_over].tolist()
    steps = Counter(arrived)
    steps.subtract(left)
    instants = sorted(steps)
    fill = accumulate(steps[at_ns] for at_ns in instants)
    changes: list[Change] = list(zip(instants, fill, strict=True))
    yield signal(SCOPE, "fifo_fill", changes, bits=COUNT_BITS)
    read_ns = reads["read_ns"].copy()
    read_ns[~is_over] = plan.until_ns + 1
    waits = zip(reads["accepted_ns"].tolist(), read_ns.tolist(), strict=True)
    yield wire(SCOPE, "interrupt", waits)
    runs = spans_between(
        plan,
        len(plan.tx),
        (PROGRAM_STARTS, PROGRAM_RESUMES),
        (PROGRAM_STOPS, PROGRAM_PAUSES),
    )
    yield wire(SCOPE, "program_runs", runs)
    if trace.scenario.receiver.supply is not None:
        dips = [(row.at_ns, row.until_ns) for row in plan.brownouts]
        yield wire(SCOPE, "supply_too_low", dips)
    starts = pass_starts(trace, plan)
    yield signal(SCOPE, "pass_flips", [(at_ns, (k + 1) % 2) for k, at_ns in enumerate(starts)])
    yield number(SCOPE, "frames_read", map(tuple, trace.passes.tolist()), bits=COUNT_BITS)


def failsafe_signals(trace: Trace, plan: Plan, vehicle: VehicleRecord) -> Iterator[Signal]:
    """Each stream's flag; neither on nor off while the program is down."""
    for name, record in zip(plan.streams, vehicle.streams, strict=True):
        if name in trace.scenario.failsafe:
            changes = _flag(record)
            yield signal(("failsafes", name), "on", changes, first=UNKNOWN)


def _flag(record: StreamRecord) -> list[Change]:
    """In the order of what happens at one instant: down, up, fed, looked at."""
    values: dict[int, tuple[int, Value]] = {
        STOPPED: (0, UNKNOWN),
        STARTED: (1, 1),
        FAILSAFE: (3, 1),
    }
    told: list[tuple[int, int, Value]] = [(at_ns, 2, 0) for at_ns in record.left_ns]
    for at_ns, kind in zip(
        record.table["at_ns"].tolist(), record.table["kind"].tolist(), strict=True
    ):
        if kind in values:
            told.append((at_ns, *values[kind]))
    return [(at_ns, value) for at_ns, _, value in sorted(told, key=lambda row: row[:2])]


def output_signals(trace: Trace, vehicle: VehicleRecord) -> Iterator[Signal]:
    """Of each output, pulses for a servo and the level written for the rest."""
    for name, output in trace.scenario.output.items():
        scope, record = ("outputs", name), vehicle.outputs[name]
        if output.kind == "servo":
            yield from _pulses(scope, record)
        else:
            yield from _levels(scope, record)
        told = zip(record.told["at_ns"].tolist(), record.told["is_live"].tolist(), strict=True)
        yield signal(scope, "follows", told)
        if output.servo is not None:
            ends = zip(
                record.effects["end_ns"].tolist(), record.effects["angle"].tolist(), strict=True
            )
            placed: list[Change] = [(at_ns, deg) for at_ns, deg in ends if not math.isnan(deg)]
            yield signal(scope, "servo_deg", placed, bits=REAL, first=0.0)


def _pulses(scope: tuple[str, ...], record: OutputRecord) -> Iterator[Signal]:
    starts, ends = record.effects["start_ns"].tolist(), record.effects["end_ns"].tolist()
    yield wire(scope, "pulse", zip(starts, ends, strict=True))


def _levels(scope: tuple[str, ...], record: OutputRecord) -> Iterator[Signal]:
    written = list(
        zip(record.effects["start_ns"].tolist(), record.effects["level"].tolist(), strict=True)
    )
    driven: list[Change] = [(at_ns, int(not math.isnan(level))) for at_ns, level in written]
    levels: list[Change] = [(at_ns, 0.0 if math.isnan(it) else it) for at_ns, it in written]
    yield signal(scope, "driven", driven)
    yield signal(scope, "level", levels, bits=REAL, first=0.0)


MOST_CHANGES = 2_000_000
"""Some 30 MB of text."""
_PLAIN = re.compile(r"[A-Za-z_][A-Za-z0-9_$]*")
_LEGEND = (
    "transmitters: on_air (with its attempt, from 1; lost: not taken by the receiver); "
    "acknowledged: its acknowledgement is on the air (acknowledgement_lost: nobody takes it). "
    "settles: the radio turns round. "
    "receiver: fifo_fill counts frames; interrupt: one waits to be read; pass_flips: changes as a "
    "pass starts; frames_read: in the pass under way. "
    "outputs: pulse, or level while driven; follows: it follows the hand, neither start nor "
    "failsafe. "
    "failsafes: on; x while the program is down."
)


def check_length(scenario: Scenario) -> None:
    """ReportError, before anything is simulated, if a start is far too long for a waveform."""
    seconds, unit = scenario.duration_s, scenario.receiver
    in_a_second = 1000 / (unit.loop_ms + unit.delay_ms)
    in_a_second += math.fsum(
        2 * it.refresh_hz for it in scenario.output.values() if it.kind == "servo"
    )
    if in_a_second * seconds > 2 * MOST_CHANGES:
        raise _too_long(int(in_a_second * seconds), seconds)


def waveform(trace: Trace) -> str:
    """One start as a value change dump; ReportError if it has more than MOST_CHANGES changes."""
    signals = signals_of(trace)
    count = sum(len(it.changes) for it in signals)
    if count > MOST_CHANGES:
        raise _too_long(count, trace.duration_ns / NS_PER_S)
    return _written(trace, signals)


def signals_of(trace: Trace) -> tuple[Signal, ...]:
    """All that a waveform shows of one start."""
    plan = plan_of(trace)
    vehicle = record_of_start(trace)
    signals = (
        *transmitter_signals(trace, plan),
        *receiver_radio_signals(trace, plan),
        *receiver_program_signals(trace, plan),
        *output_signals(trace, vehicle),
        *failsafe_signals(trace, plan, vehicle),
    )
    # A pass or a pulse under way at the end is over later.
    return tuple(until(signal, trace.duration_ns) for signal in signals)


def identifier(name: str) -> str:
    """A name as the format takes it: escaped if it holds more than letters, digits, _ and $."""
    return name if _PLAIN.fullmatch(name) else "\\" + name


def _written(trace: Trace, signals: Sequence[Signal]) -> str:
    from vcd import VCDWriter  # noqa: PLC0415 - few runs want one

    text = io.StringIO()
    comment = f"seed {trace.seed}, start {trace.start}. {CAUTION} {_LEGEND}"
    with VCDWriter(
        text, timescale="1 ns", date="", version=f"radiosim {trace.version}", comment=comment
    ) as writer:
        lines = [
            writer.register_var(
                tuple(map(identifier, signal.scope)),
                identifier(signal.name),
                "real" if signal.bits == REAL else "wire",
                size=signal.bits or None,
                init=signal.first,
            )
            for signal in signals
        ]
        for at_ns, k, value in merge(*map(_changes, range(len(signals)), signals)):
            writer.change(lines[k], at_ns, value)
        # A viewer shows the start to its end, whatever changed last.
        writer.close(trace.duration_ns)
    return text.getvalue()


def _changes(k: int, signal: Signal) -> Iterator[tuple[int, int, Value]]:
    return ((at_ns, k, value) for at_ns, value in signal.changes)


def _too_long(count: int, seconds: float) -> ReportError:
    most_s = float(f"{0.9 * seconds * MOST_CHANGES / count:.1g}")
    return ReportError(
        f"--waveform: must be at most {MOST_CHANGES:,} changes, got some {count:,} in "
        f"{seconds:g} s (a shorter start fits: --duration-s {most_s:g})"
    )
