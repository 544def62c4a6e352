"""Every pass of the receiver's program in one start, idle ones too, as runs of equal length.

`passes_before` (`vehicle/fold/program_state.py`) goes the same way and counts them: it counts idle
passes without a row for each run, in the fold of every start. Machine code knows no functions that
are handed in, so one walk for both would write rows there that nobody reads. The rules that move
the passes on are shared (`engine/rules/timing.py`), and a law holds this list to `pass_starts`,
which counts by the walk of the fold.
"""

from typing import Any

import numpy as np
import numpy.typing as npt

from radiosim.engine.jit import RECEIVER_COUNTS, JitBackend, backend_for
from radiosim.engine.plan import Plan
from radiosim.engine.plan_rows import PROGRAM_PAUSES, PROGRAM_STARTS, PROGRAM_STOPS, Rx
from radiosim.engine.rules.timing import next_work_after, pass_length
from radiosim.engine.timeline import FOREVER_NS
from radiosim.marks import rule
from radiosim.trace import READ, THROWN_AWAY, Table, Trace, table_dtype
from radiosim.vehicle.fold.program_state import WalkPass
from radiosim.vehicle.program_fold import walk_steps


class WalkedState:
    """How far the passes are listed."""

    rx: Rx
    running: int
    base_ns: int
    previous_ns: int
    next_ns: int
    paused_ns: int
    runs: int
    """Runs of passes listed."""


class PassRun:
    """Some passes at equal distances."""

    first_ns: int
    step_ns: int
    count: int


@rule
def list_run(w: WalkedState, out: Any, first_ns: int, step_ns: int, count: int) -> None:
    """Write down some passes at equal distances."""
    run = out[w.runs]
    w.runs += 1
    run.first_ns = first_ns
    run.step_ns = step_ns
    run.count = count


@rule
def idle_to(w: WalkedState, out: Any, at_ns: int) -> None:
    """List the passes before an instant, if they are idle (rule E1)."""
    if w.running == 0:
        return
    while w.next_ns < at_ns:
        limit_ns = at_ns
        if w.rx.works > 0:
            due_ns = next_work_after(w.rx, w.base_ns, w.previous_ns)
            if due_ns <= w.next_ns:
                start_ns = w.next_ns
                list_run(w, out, start_ns, 0, 1)
                w.next_ns += pass_length(w.rx, w.base_ns, w.previous_ns, start_ns, 0)
                w.previous_ns = start_ns
                continue
            limit_ns = min(at_ns, due_ns)
        count = -((w.next_ns - limit_ns) // w.rx.pass_ns)
        list_run(w, out, w.next_ns, w.rx.pass_ns, count)
        w.previous_ns = w.next_ns + (count - 1) * w.rx.pass_ns
        w.next_ns = w.previous_ns + w.rx.pass_ns


@rule
def take_step(w: WalkedState, out: Any, at_ns: int, kind: int) -> None:
    """Walk on to a step of the program (rule E3)."""
    idle_to(w, out, at_ns)
    if kind == PROGRAM_STARTS:
        w.running = 1
        w.base_ns = w.next_ns = at_ns
        w.previous_ns = at_ns - 1
    elif kind == PROGRAM_STOPS:
        w.running = 0
    elif kind == PROGRAM_PAUSES:
        w.running = 0
        w.paused_ns = at_ns
    else:
        w.running = 1
        w.next_ns += at_ns - w.paused_ns


def walk_all(w: WalkedState, passes: Any, steps: Any, until_ns: int, out: Any) -> int:
    """List every pass; how many runs there are. Interrupts may read in one that is listed."""
    p = s = 0
    while True:
        read_ns = step_ns = FOREVER_NS
        if p < len(passes):
            read_ns = passes[p].first_ns
        is_read_first = False
        if s < len(steps):
            step_ns = steps[s].at_ns
            is_read_first = steps[s].reads == 1
        if min(read_ns, step_ns) >= until_ns:
            break
        if read_ns < step_ns or (read_ns == step_ns and is_read_first):
            start_ns = passes[p].start_ns
            idle_to(w, out, start_ns)
            if start_ns > w.previous_ns:
                list_run(w, out, start_ns, 0, 1)
                w.previous_ns = start_ns
            w.next_ns = passes[p].next_ns
            p += 1
        else:
            take_step(w, out, step_ns, steps[s].kind)
            s += 1
    idle_to(w, out, until_ns)
    return w.runs


def pass_runs(plan: Plan, trace: Trace, backend: JitBackend) -> Table:
    """Rows of PassRun."""
    w = backend.record(WalkedState, RECEIVER_COUNTS)
    backend.fill(backend.get(w, "rx"), plan.rx)
    rows = np.zeros(len(trace.passes), table_dtype(WalkPass))
    reads = trace.reads
    read_ns = reads["read_ns"][np.isin(reads["outcome"], (READ, THROWN_AWAY))]
    frames = trace.passes["frames"]
    rows["first_ns"] = read_ns[np.cumsum(frames) - frames]
    rows["start_ns"], rows["next_ns"] = trace.passes["start_ns"], trace.passes["next_ns"]
    # A clock is off by 2 % at most (rule T5).
    works = sum(plan.until_ns // work.every_ns * 11 // 10 + 2 for work in plan.rx.work)
    room = 2 * len(rows) + 3 * works + 2 * len(plan.steps) + 16
    out = backend.room(PassRun, room)
    made = backend.entry(walk_all)(
        w, backend.rows(rows), backend.rows(walk_steps(plan)), plan.until_ns, out
    )
    return backend.table(PassRun, out, int(made))


def each_pass(plan: Plan, trace: Trace) -> npt.NDArray[np.int64]:
    """When each pass of a start begins."""
    runs = pass_runs(plan, trace, backend_for(plan, trace.engine))
    count = runs["count"]
    number = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count)
    starts: npt.NDArray[np.int64] = np.repeat(runs["first_ns"], count) + number * np.repeat(
        runs["step_ns"], count
    )
    return starts
