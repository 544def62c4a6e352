"""One start as a script for a bench, and the reply that it gives: the records of `c/script.h`."""

from dataclasses import dataclass
from enum import IntEnum

import numpy as np
import numpy.typing as npt

from radiosim.engine.jit import JitBackend, backend_for
from radiosim.engine.plan import Plan
from radiosim.engine.plan_rows import FIFO_EMPTIED, PROGRAM_STARTS, PROGRAM_STOPS, RADIO_STOPS
from radiosim.firmware.all_passes import pass_runs
from radiosim.firmware.frame_bytes import FrameBytes
from radiosim.scenario import Scenario
from radiosim.trace import LOST, READ, THROWN_AWAY, Table, Trace
from radiosim.units import NS_PER_S

MAGIC = 0x31425352
HEAD = np.dtype(
    [
        ("magic", "u4"),
        ("passes", "u4"),
        ("arrivals", "u4"),
        ("steps", "u4"),
        ("interrupts", "u4"),
        ("fifo_frames", "u4"),
        ("outputs", "u4"),
        ("pulses", "u4"),
        ("pipes", "u4"),
        ("tells_all", "u4"),
        ("until_ns", "i8"),
        ("clock_us", "i8"),
        ("ppb", "i8"),
        ("stuck_ns", "i8"),
        ("endless_us", "i8"),
    ]
)
PASSES = np.dtype([("first_ns", "i8"), ("step_ns", "i8"), ("count", "i8")])
ARRIVAL = np.dtype(
    [("at_ns", "i8"), ("pipe", "u1"), ("length", "u1"), ("bytes", "u1", (32,)), ("spare", "u1", 6)]
)
STEP = np.dtype([("at_ns", "i8"), ("kind", "i8")])
REPLY = np.dtype(
    [
        ("status", "u4"),
        ("signal", "u4"),
        ("where", "u4"),
        ("stamp", "u4"),
        ("at_ns", "i8"),
        ("pc", "i8"),
        ("named", "i8"),
        ("passes", "i8"),
        ("calls", "i8"),
        ("swallowed", "i8"),
        ("waited_ns", "i8"),
        ("waited_most_ns", "i8"),
        ("waited_most_at_ns", "i8"),
        ("boot_waited_most_ns", "i8"),
        ("full", "i8"),
        ("full_at_ns", "i8"),
        ("cycles", "i8"),
        ("cycles_most", "i8"),
        ("cycles_idle", "i8"),
        ("outs", "u4"),
        ("takes", "u4"),
    ]
)
OUT = np.dtype(
    [("at_ns", "i8"), ("kind", "i4"), ("output", "i4"), ("value", "i8"), ("takes", "i8")]
)
TAKE = np.dtype([("at_ns", "i8"), ("row", "i8")])
BOOTS, STOPS, EMPTIES = range(3)
PULSE, LEVEL, FAILSAFE_STATE, TURNED = range(4)
STUCK_S, ENDLESS_S = 5.0, 2.0
"""Simulated time, and computing time, in one call after which it counts as one that never ends."""


class Status(IntEnum):
    """How a start ended; all but FINE end it early."""

    FINE = 0
    CRASHED = 1
    ENDLESS = 2
    STUCK = 3
    ENDED = 4
    OVERRUN = 5
    NO_SUCH_OUTPUT = 6
    WRONG_KIND = 7
    NO_SUCH_PIPE = 8
    TOO_MUCH = 9


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Script:
    """A start for a bench."""

    content: bytes
    rows: npt.NDArray[np.int64]
    """Row of the trace's reads of each arrival."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Reply:
    """What the program did in one start."""

    head: np.void
    """One REPLY."""
    outs: Table
    takes: Table
    printed: str = ""
    """The beginning of what it printed, standard output and errors alike."""
    printed_bytes: int = 0
    seen: np.void | None = None
    """What the bench of a whole chip saw besides."""


def script_of(
    scenario: Scenario, plan: Plan, trace: Trace, *, clock_ms: int = 0, tells_all: bool = False
) -> Script:
    """The script of one start; `clock_ms`: what the program's clock shows at the first boot.

    `tells_all`: levels that outputs are told again count too, where frames were taken since.
    """
    backend = backend_for(plan, trace.engine)
    arrivals, rows = _arrivals(scenario, plan, trace, backend)
    passes = pass_runs(plan, trace, backend)
    steps = receiver_steps(plan)
    interrupts = _interrupts(plan, trace)
    head = np.zeros(1, HEAD)
    outputs = list(scenario.output.values())
    for name, value in {
        "magic": MAGIC,
        "passes": len(passes),
        "arrivals": len(arrivals),
        "steps": len(steps),
        "interrupts": len(interrupts),
        "fifo_frames": plan.rx.fifo_frames,
        "outputs": len(outputs),
        "pulses": sum((output.kind == "servo") << k for k, output in enumerate(outputs)),
        "pipes": sum(1 << pipe for pipe in {u.pipe for u in scenario.transmitter.values()}),
        "tells_all": int(tells_all),
        "until_ns": plan.until_ns,
        "clock_us": 1000 * clock_ms,
        "ppb": plan.rx.ppb,
        "stuck_ns": round(STUCK_S * NS_PER_S),
        "endless_us": round(ENDLESS_S * 1_000_000),
    }.items():
        head[name] = value
    content = b"".join(part.tobytes() for part in (head, passes, arrivals, steps, interrupts))
    return Script(content=content, rows=rows)


def _interrupts(plan: Plan, trace: Trace) -> npt.NDArray[np.int64]:
    """When the radio's line is served, by a program that reads so (rule E2)."""
    reads = trace.reads
    read_ns = reads["read_ns"][np.isin(reads["outcome"], (READ, THROWN_AWAY))]
    return np.unique(read_ns if plan.rx.interrupt else read_ns[:0])


def receiver_steps(plan: Plan) -> Table:
    """Rows of STEP: boots and stops of the program, and what empties the FIFO."""
    kinds = {
        PROGRAM_STARTS: BOOTS,
        PROGRAM_STOPS: STOPS,
        RADIO_STOPS: EMPTIES,
        FIFO_EMPTIED: EMPTIES,
    }
    rows = [
        (step.at_ns, kinds[step.kind])
        for step in plan.steps
        if step.unit == len(plan.tx) and step.kind in kinds
    ]
    return np.array(rows, STEP)


def _arrivals(
    scenario: Scenario, plan: Plan, trace: Trace, backend: JitBackend
) -> tuple[Table, npt.NDArray[np.int64]]:
    """Frames in the order in which they stood in the FIFO, and their rows among all reads."""
    reads, packer = trace.reads, FrameBytes(plan, backend)
    # One whose radio stops before it stood there is lost with the FIFO.
    first_ns = np.minimum(reads["accepted_ns"], reads["read_ns"])
    at_ns = np.where(reads["outcome"] == LOST, first_ns, reads["accepted_ns"])
    order = np.argsort(at_ns, kind="stable")
    reads = reads[order]
    table = np.zeros(len(reads), ARRIVAL)
    table["at_ns"] = at_ns[order]
    pipes = [scenario.transmitter[name].pipe for name in plan.streams]
    table["pipe"] = np.array(pipes, np.uint8)[reads["stream"]]
    for stream, payload in enumerate(plan.payloads):
        mine = reads["stream"] == stream
        table["length"][mine] = payload.padded_bytes
        some = reads[mine]
        table["bytes"][mine] = packer.pack(stream, some["values_frame"], some["values_ns"])
    return table, order
