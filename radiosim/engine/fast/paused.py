"""A run that stands still, goes on, and can be copied into other futures."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from radiosim.engine.fast.agenda import set_due
from radiosim.engine.fast.loop import ASK, END, STEP, advance, take_step
from radiosim.engine.fast.run import Chunk, compare, emptied, world_of
from radiosim.engine.order import step_slot
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
        while True:
            step = self.plan.steps[self.steps] if self.steps < len(self.plan.steps) else None
            step_ns = FOREVER_NS if step is None else step.at_ns
            set_due(self.world, step_slot(len(self.plan.tx)), min(at_ns, step_ns))
            why = advance(self.world)
            if why == ASK:
                compare(self.world, self.plan)
            elif why == END or (why == STEP and (step is None or at_ns <= step_ns)):
                break
            elif why == STEP and step is not None:
                take_step(self.world, step.unit, step.kind, step.at_ns)
                self.steps += 1
            else:
                yield from emptied(self.world)
        yield from emptied(self.world)

    def copy(self, branch: int) -> "Paused":
        """The same past with another future: all that is drawn from now on is drawn afresh."""
        world = self.world.copy()
        world["tx"]["branch"] = branch
        return Paused(plan=self.plan, world=world, steps=self.steps)


def begin(plan: Plan) -> Paused:
    """A run before anything has happened."""
    return Paused(plan=plan, world=world_of(plan))
