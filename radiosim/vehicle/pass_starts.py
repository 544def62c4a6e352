"""Every pass of the receiver's program in a kept trace, those that read nothing included."""

from dataclasses import dataclass

from radiosim.engine.machine import RECEIVER_COUNTS, Machine
from radiosim.engine.plan import Plan
from radiosim.engine.timeline import FOREVER_NS
from radiosim.trace import READ, THROWN_AWAY, Trace
from radiosim.vehicle.fold.walk import WalkPass, WalkState, count_idle, walk_pass, walk_step
from radiosim.vehicle.program import walk_steps


def pass_starts(
    trace: Trace, plan: Plan, *, from_ns: int = 0, until_ns: int = FOREVER_NS
) -> tuple[int, ...]:
    """Their starts in ns from an instant to before another, in order.

    Found by the very rules that count passes (rule E1).
    """
    machine = Machine(None)
    w = machine.record(WalkState, RECEIVER_COUNTS)
    machine.fill(w.rx, plan.rx)
    walk = _Walk(w, from_ns, [])
    passes, taken, until_ns = _walk_passes(trace), 0, min(until_ns, plan.until_ns)
    for at_ns, kind, reads_first in walk_steps(plan).tolist():
        if at_ns >= until_ns:
            break
        taken = walk.take(passes, taken, at_ns + reads_first)
        walk.idle_until(at_ns)
        walk_step(w, at_ns, kind)
    walk.take(passes, taken, until_ns)
    walk.idle_until(until_ns)
    return tuple(at_ns for at_ns in walk.starts if from_ns <= at_ns < until_ns)


@dataclass(frozen=True, slots=True)
class _Walk:
    """The passes so far, listed from an instant on."""

    w: WalkState
    from_ns: int
    starts: list[int]

    def take(self, passes: list[WalkPass], taken: int, before_ns: int) -> int:
        """On past the passes whose first read is before an instant; how many are taken then."""
        while taken < len(passes) and passes[taken].first_ns < before_ns:
            then = passes[taken + 1].first_ns if taken + 1 < len(passes) else FOREVER_NS
            if then >= min(before_ns, self.from_ns):
                self._take(passes[taken])
            taken += 1
        return taken

    def _take(self, row: WalkPass) -> None:
        """On to a pass that reads; with interrupts it may have started already."""
        self.idle_until(row.start_ns)
        before = self.w.count
        walk_pass(self.w, row.start_ns, row.next_ns)
        if self.w.count > before:
            self.starts.append(self.w.last_ns)

    def idle_until(self, at_ns: int) -> None:
        count_idle(self.w, min(at_ns, self.from_ns))
        while self.w.running and self.w.next_ns < at_ns:
            count_idle(self.w, self.w.next_ns + 1)
            self.starts.append(self.w.last_ns)


def _walk_passes(trace: Trace) -> list[WalkPass]:
    """Passes with reads, each with the instant of its first."""
    outcomes = trace.reads["outcome"]
    read_ns = trace.reads["read_ns"][(outcomes == READ) | (outcomes == THROWN_AWAY)].tolist()
    rows, taken = [], 0
    for start_ns, next_ns, frames in trace.passes.tolist():
        rows.append(WalkPass(read_ns[taken], start_ns, next_ns))
        taken += frames
    return rows
