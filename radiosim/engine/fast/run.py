"""A plan run by the compiled loop."""

from collections.abc import Iterator
from typing import Any

import numpy as np
import numpy.typing as npt

from radiosim.engine.fast.agenda import NEVER
from radiosim.engine.fast.loop import ASK, END, STEP, advance, close, set_stop, take_step
from radiosim.engine.fast.records import TABLES, world_dtype
from radiosim.engine.plan import Plan, has_same_crc
from radiosim.engine.plan_rows import FIFO_EMPTIED
from radiosim.engine.records import fill
from radiosim.engine.rules.levels import begins_bad
from radiosim.engine.timeline import FOREVER_NS
from radiosim.trace import Table

Record = Any
Chunk = dict[str, Table]

SHALLOW, DEEP = (4, 4), (1000, 64)
"""Sizes for which the loop is compiled: depth of FIFOs, works of one program."""


def can_run(plan: Plan) -> bool:
    """Whether the loop has room for the plan."""
    return _works(plan) <= DEEP[1]


def run(plan: Plan) -> dict[str, Table]:
    """Tables of one start, by name; equal to the reference's."""
    kept: dict[str, list[Table]] = {name: [] for name in TABLES}
    for chunk in chunks(plan):
        for name, rows in chunk.items():
            kept[name].append(rows.copy())
    tables = {name: np.concatenate(rows) for name, rows in kept.items()}
    for table in tables.values():
        table.flags.writeable = False
    return tables


def compile_for(plan: Plan) -> None:
    """Make or load the machine code that a plan needs, without running it."""
    w = world_of(plan)
    w["until_ns"] = 0
    advance(w.base)
    close(w.base)
    take_step(w.base, len(plan.tx), FIFO_EMPTIED, 0)


def chunks(plan: Plan) -> Iterator[Chunk]:
    """The trace, about a thousand rows at a time; a chunk is overwritten by the next."""
    w, taken, why = world_of(plan), 0, STEP
    tables = tables_of(w)
    set_step(w, plan, taken)
    while why != END:
        why = advance(w.base)
        if why == ASK:
            compare(w, plan)
        elif why == STEP:
            step = plan.steps[taken]
            take_step(w.base, step.unit, step.kind, step.at_ns)
            taken += 1
            set_step(w, plan, taken)
        else:
            yield from emptied(w, tables)
    close(w.base)
    yield from emptied(w, tables)


def tables_of(w: Record) -> Chunk:
    """The tables of a world, all their rows: made once, for they take long to make."""
    return {name: w[name] for name in TABLES}


def emptied(w: Record, tables: Chunk) -> Iterator[Chunk]:
    """Hand the tables over and start them afresh."""
    yield {name: rows[: w[f"{name}_n"]] for name, rows in tables.items()}
    for name in TABLES:
        w[f"{name}_n"] = 0


def set_step(w: Record, plan: Plan, taken: int) -> None:
    """The next step stands in its slot."""
    at_ns = plan.steps[taken].at_ns if taken < len(plan.steps) else FOREVER_NS
    set_stop(w.base, at_ns)


def compare(w: Record, plan: Plan) -> None:
    """Whether two frames of one packet number have one CRC (rule D3)."""
    stream = int(w["asking"])
    frame, last = w["transmitter"][stream]["fifo"][0], w["memory"][plan.tx[stream].memory]
    w["same"] = has_same_crc(
        plan,
        int(frame["number"]),
        (stream, int(frame["values_frame"]), int(frame["values_ns"])),
        (int(last["stream"]), int(last["values_frame"]), int(last["values_ns"])),
    )
    w["answered"] = 1


def world_of(plan: Plan) -> Record:
    """The world before anything has happened; its `base` is the array of one that holds it.

    Its tables hold whatever stood in that memory: each row is written whole before it is read.
    """
    n, depth = len(plan.tx), plan.rx.fifo_frames
    size = SHALLOW if depth <= SHALLOW[0] and _works(plan) <= SHALLOW[1] else DEEP
    w = np.empty(1, world_dtype(*size))[0]
    head_of(w)[:] = 0
    w["n"], w["until_ns"] = n, plan.until_ns
    for i, tx in enumerate(plan.tx):
        fill(w["tx"][i], tx)
    fill(w["rx"], plan.rx)
    w["due"][:] = NEVER
    w["transmitter"]["hit_ns"] = FOREVER_NS
    w["transmitter"]["shadow_step"] = w["burst"] = -1
    w["bad"] = plan.rx.good_ns > 0 and not begins_bad(plan.rx)
    w["on_since_ns"] = w["listening_ns"] = FOREVER_NS
    return w


def head_of(w: Record) -> npt.NDArray[np.uint8]:
    """The bytes of a world before its tables, which come last and are most of it."""
    size = min(w.dtype.fields[name][1] for name in TABLES)
    head: npt.NDArray[np.uint8] = w.base.view(np.uint8)[:size]
    return head


def _works(plan: Plan) -> int:
    return max(len(plan.rx.work), len(plan.rx.deaf), *(len(tx.work) for tx in plan.tx))
