"""Every pass of the receiver's program in a kept trace, those that read nothing included."""

from collections.abc import Callable

from radiosim.engine.machine import RECEIVER_COUNTS, Machine
from radiosim.engine.plan import Plan
from radiosim.trace import READ, THROWN_AWAY, Trace
from radiosim.vehicle.fold.walk import WalkPass, WalkState, count_idle, walk_pass, walk_step
from radiosim.vehicle.program import walk_steps

IdleUntil = Callable[[int], None]


def pass_starts(trace: Trace, plan: Plan) -> tuple[int, ...]:
    """Their starts in ns, in order; found by the very rules that count passes (rule E1)."""
    machine = Machine(None)
    w = machine.record(WalkState, RECEIVER_COUNTS)
    machine.fill(w.rx, plan.rx)
    starts: list[int] = []

    def idle_until(at_ns: int) -> None:
        while w.running and w.next_ns < at_ns:
            count_idle(w, w.next_ns + 1)
            starts.append(w.last_ns)

    passes = _walk_passes(trace)
    taken = 0
    for at_ns, kind, reads_first in walk_steps(plan).tolist():
        while taken < len(passes) and passes[taken].first_ns < at_ns + reads_first:
            _take(w, passes[taken], starts, idle_until)
            taken += 1
        idle_until(at_ns)
        walk_step(w, at_ns, kind)
    for row in passes[taken:]:
        _take(w, row, starts, idle_until)
    idle_until(plan.until_ns)
    return tuple(starts)


def _take(w: WalkState, row: WalkPass, starts: list[int], idle_until: IdleUntil) -> None:
    """On to a pass that reads; with interrupts it may have started already."""
    idle_until(row.start_ns)
    walk_pass(w, row.start_ns, row.next_ns)
    if w.count > len(starts):
        starts.append(w.last_ns)


def _walk_passes(trace: Trace) -> list[WalkPass]:
    """Passes with reads, each with the instant of its first."""
    outcomes = trace.reads["outcome"]
    read_ns = trace.reads["read_ns"][(outcomes == READ) | (outcomes == THROWN_AWAY)].tolist()
    rows, taken = [], 0
    for start_ns, next_ns, frames in trace.passes.tolist():
        rows.append(WalkPass(read_ns[taken], start_ns, next_ns))
        taken += frames
    return rows
