"""A run that stands still, goes on, and can be copied into other futures."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from radiosim.engine.fast.loop import ASK, END, STEP, advance, set_stop, take_step
from radiosim.engine.fast.run import Chunk, compare, emptied, tables_of, world_of
from radiosim.engine.plan import Plan
from radiosim.engine.timeline import FOREVER_NS

Record = Any


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

    def copy(self, branch: int) -> "Paused":
        """The same past with another future: all that is drawn from now on is drawn afresh."""
        world = self.world.base.copy()[0]
        world["tx"]["branch"] = branch
        return Paused(plan=self.plan, world=world, steps=self.steps)


def begin(plan: Plan) -> Paused:
    """A run before anything has happened."""
    return Paused(plan=plan, world=world_of(plan))
