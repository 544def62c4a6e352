"""Runs of the compiled loop: a plan run through, or paused, moved back and branched."""

import inspect
import threading
from collections.abc import Iterator
from typing import Any

import msgspec
import numpy as np
import numpy.typing as npt

from radiosim.engine.fast.loop import ASK, END, STEP, advance, close, set_stop, take_step
from radiosim.engine.fast.world import NEVER, TABLES, world_dtype
from radiosim.engine.jit import fill
from radiosim.engine.plan import Plan, has_same_crc
from radiosim.engine.plan_rows import FIFO_EMPTIED, Step
from radiosim.engine.rules.levels import begins_bad
from radiosim.engine.timeline import FOREVER_NS
from radiosim.machine import kept
from radiosim.trace import DTYPES, WAITING, Table

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


def is_compiled() -> bool:
    """Whether a run before this one has left compiled code."""
    return kept.is_kept(inspect.unwrap(advance))


def compile_for(plan: Plan) -> None:
    """Make or load the machine code that a plan needs, without running it."""
    w = world_of(plan)
    w["until_ns"] = 0
    advance(w.base)
    close(w.base)
    take(w, Step(0, len(plan.tx), FIFO_EMPTIED))


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
            take(w, step)
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


def take(w: Record, step: Step) -> None:
    """A step happens."""
    take_step(w.base, step.unit, step.kind, step.at_ns, step.stream, step.frame, step.asks)


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
    w["acknowledged"] = 1


def world_of(plan: Plan) -> Record:
    """The world before anything has happened; its `base` is the array of one that holds it.

    Its tables hold whatever stood in that memory: each row is written whole before it is read.
    """
    n, depth = len(plan.tx), plan.rx.fifo_frames
    size = SHALLOW if depth <= SHALLOW[0] and _works(plan) <= SHALLOW[1] else DEEP
    w = np.empty(1, world_dtype(*size))[0]
    last = _LAST.mould
    if last is not None and last.size == size and len(last.plan.tx) == n:
        head_of(w)[:] = last.head
        for i, tx in enumerate(plan.tx):
            fill(w["tx"][i], tx, last.plan.tx[i])
        fill(w["rx"], plan.rx, last.plan.rx)
    else:
        head_of(w)[:] = 0
        for i, tx in enumerate(plan.tx):
            fill(w["tx"][i], tx)
        fill(w["rx"], plan.rx)
        _LAST.mould = _Mould(plan, size, head_of(w).copy())
    w["n"], w["until_ns"] = n, plan.until_ns
    w["due"][:] = NEVER
    w["transmitter"]["hit_ns"] = FOREVER_NS
    w["transmitter"]["shadow_step"] = w["burst"] = -1
    w["bad"] = plan.rx.good_ns > 0 and not begins_bad(plan.rx)
    w["on_since_ns"] = w["listening_ns"] = FOREVER_NS
    return w


def draw_world(w: Record, plan: Plan, was: Plan) -> None:
    """Make the world of one start, before anything has happened, that of another one of the same
    scenario; `was`: the plan of the first."""
    for record, tx, before in zip(w["tx"], plan.tx, was.tx, strict=False):
        fill(record, tx, before)
    fill(w["rx"], plan.rx, was.rx)
    w["bad"] = plan.rx.good_ns > 0 and not begins_bad(plan.rx)


class _Mould(msgspec.Struct, frozen=True):
    """The head of a world that holds the units of a plan, and nothing else."""

    plan: Plan
    size: tuple[int, int]
    head: npt.NDArray[np.uint8]


class _Last(threading.local):
    """That of this thread's last world of another kind: starts of one scenario are much alike."""

    mould: _Mould | None = None


_LAST = _Last()


def head_of(w: Record) -> npt.NDArray[np.uint8]:
    """The bytes of a world before its tables, which come last and are most of it."""
    size = min(w.dtype.fields[name][1] for name in TABLES)
    head: npt.NDArray[np.uint8] = w.base.view(np.uint8)[:size]
    return head


def _works(plan: Plan) -> int:
    return max(len(plan.rx.work), len(plan.rx.deaf), *(len(tx.work) for tx in plan.tx))


class Moment(msgspec.Struct, frozen=True):
    """All that a run that stands still holds, to go on from there more than once."""

    head: npt.NDArray[np.uint8]
    """The world's bytes, but for its tables, which are empty then."""
    steps: int


class Paused(msgspec.Struct):
    """A run up to an instant; going on changes it."""

    plan: Plan
    world: Record
    steps: int = 0
    """Steps of the plan that were taken."""

    def run_until(self, at_ns: int) -> Iterator[Chunk]:
        """Go on until the steps of an instant are next; the rows written meanwhile.

        A chunk is overwritten by the next. A stop is a step without effect: what stood still goes
        on as if it had not. The end of the run is the last stop.
        """
        tables = tables_of(self.world)
        while True:
            step = self.plan.steps[self.steps] if self.steps < len(self.plan.steps) else None
            step_ns = FOREVER_NS if step is None else step.at_ns
            set_stop(self.world.base, min(at_ns, step_ns))
            why = advance(self.world.base)
            if why == ASK:
                compare(self.world, self.plan)
            elif why == END or (why == STEP and (step is None or at_ns <= step_ns)):
                break
            elif why == STEP and step is not None:
                take(self.world, step)
                self.steps += 1
            else:
                yield from emptied(self.world, tables)
        yield from emptied(self.world, tables)

    def waiting(self) -> Table:
        """Frames that stand in the receiver's FIFO, as rows of reads that are still to come."""
        w = self.world
        fifo = w["fifo"][: w["fill"]]
        rows = np.zeros(len(fifo), DTYPES["reads"])
        for name in rows.dtype.names or ():
            if name in fifo.dtype.names:
                rows[name] = fifo[name]
        rows["read_ns"], rows["outcome"] = self.plan.until_ns, WAITING
        return rows

    def under_way(self) -> Table:
        """The pass in which interrupts have read frames and may read more; empty if none."""
        w = self.world
        row = (w["previous_ns"], w["next_ns"], w["read_in_pass"])
        return np.array([row] if w["read_in_pass"] else [], DTYPES["passes"])

    def moment(self) -> Moment:
        """What it holds now."""
        return Moment(head_of(self.world).copy(), self.steps)

    def go_back(self, moment: Moment, branch: int) -> None:
        """To a moment of a run of the same plan; all that is drawn from now on is drawn afresh."""
        head_of(self.world)[:] = moment.head
        self.world["tx"]["branch"] = branch
        self.steps = moment.steps

    def copy(self, branch: int) -> "Paused":
        """Copies the run: the same past, and another future."""
        run = begin(self.plan)
        run.go_back(self.moment(), branch)
        return run


def begin(plan: Plan) -> Paused:
    """A run before anything has happened."""
    return Paused(plan=plan, world=world_of(plan))
