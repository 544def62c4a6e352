"""Starts of all passes of the receiver's program, idle ones included, as outputs count them."""

import numpy as np

from radiosim.engine.jit import RECEIVER_COUNTS, JitBackend
from radiosim.engine.plan import make_plan
from radiosim.trace import Trace
from radiosim.vehicle.fold.program_state import WalkState, passes_before
from radiosim.vehicle.program_fold import ProgramFold, walk_steps

PLAIN = JitBackend(None)


def all_pass_starts(trace: Trace) -> list[int]:
    """The instants after which one pass more has started."""
    plan = make_plan(trace.scenario, trace.start)
    program = ProgramFold(trace.scenario, plan, PLAIN, tells_passes=True)
    batches = [*program.take(trace.reads, trace.passes), *program.finish()]
    passes = PLAIN.rows(np.concatenate([batch.passes for batch in batches]))
    steps = PLAIN.rows(walk_steps(plan))
    walk = PLAIN.record(WalkState, RECEIVER_COUNTS)
    PLAIN.fill(walk.rx, plan.rx)
    starts: list[int] = []
    at_ns = -1
    while at_ns < plan.until_ns:
        known = [step.at_ns for step in steps[walk.taken_steps :][:1]]
        known += [row.first_ns for row in passes[walk.taken_passes :][:1]]
        known += [walk.next_ns] if walk.running else []
        # Nothing starts before the first of what is known to come.
        at_ns = min(max(min(known, default=plan.until_ns), at_ns) + 1, plan.until_ns)
        if passes_before(walk, passes, steps, at_ns) > len(starts):
            starts.append(walk.last_ns)
    assert walk.count == len(starts)
    return starts
