"""The receiver's FIFO, its interrupt line and its program, and the failsafe flags."""

from collections import Counter
from collections.abc import Iterator
from itertools import accumulate

from radiosim.engine.plan import Plan
from radiosim.engine.plan_rows import (
    PROGRAM_PAUSES,
    PROGRAM_RESUMES,
    PROGRAM_STARTS,
    PROGRAM_STOPS,
)
from radiosim.report.radio_times import spans_between
from radiosim.report.waveform.signal import UNKNOWN, Change, Signal, Value, number, signal, wire
from radiosim.trace import ReadOutcome, Trace
from radiosim.vehicle.fold.program_state import FAILSAFE, STARTED, STOPPED
from radiosim.vehicle.vehicle import StreamRecord, VehicleRecord, pass_starts

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
