"""A run that stands still, goes on, goes back, and branches into other futures."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from radiosim.engine.fast.loop import ASK, END, STEP, advance, set_stop, take_step
from radiosim.engine.fast.run import Chunk, compare, emptied, head_of, tables_of, world_of
from radiosim.engine.plan import Plan
from radiosim.engine.timeline import FOREVER_NS
from radiosim.trace import DTYPES, WAITING, Table

Record = Any


@dataclass(frozen=True, slots=True)
class Moment:
    """All that a run that stands still holds, to go on from there more than once."""

    head: npt.NDArray[np.uint8]
    """The world's bytes, but for its tables, which are empty then."""
    steps: int


@dataclass(slots=True)
class Paused:
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
                take_step(self.world.base, step.unit, step.kind, step.at_ns)
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
        """The same past with another future."""
        run = begin(self.plan)
        run.go_back(self.moment(), branch)
        return run


def begin(plan: Plan) -> Paused:
    """A run before anything has happened."""
    return Paused(plan=plan, world=world_of(plan))
