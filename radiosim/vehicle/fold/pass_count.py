"""The passes of the receiver's program, counted: for outputs that move once a pass (rule G2)."""

from collections.abc import Sequence
from typing import NamedTuple

from radiosim.engine.plan_rows import (
    PROGRAM_PAUSES,
    PROGRAM_RESUMES,
    PROGRAM_STARTS,
    PROGRAM_STOPS,
    Rx,
)
from radiosim.engine.rules.timing import pass_from, pass_length
from radiosim.engine.timeline import FOREVER_NS
from radiosim.marks import rule


class WalkState:
    """How far the passes are counted."""

    rx: Rx
    running: int
    base_ns: int
    previous_ns: int
    next_ns: int
    paused_ns: int
    last_ns: int
    """Start of the last pass counted."""
    count: int
    taken_passes: int
    """Number of the rows at hand that are taken."""
    taken_steps: int


class WalkPass(NamedTuple):
    """A pass that reads, and when its first read is."""

    first_ns: int
    start_ns: int
    next_ns: int


class WalkStep(NamedTuple):
    """A step of the receiver's program; `reads`: a read at its instant still comes before it."""

    at_ns: int
    kind: int
    reads: int


@rule
def count_idle(w: WalkState, at_ns: int) -> None:
    """Count the passes before an instant, if they are idle."""
    if w.running == 0 or w.next_ns >= at_ns:
        return
    if w.rx.works == 0:
        passes = -((w.next_ns - at_ns) // w.rx.pass_ns)
        w.count += passes
        w.previous_ns = w.last_ns = w.next_ns + (passes - 1) * w.rx.pass_ns
        w.next_ns = w.previous_ns + w.rx.pass_ns
        return
    while w.next_ns < at_ns:
        start_ns = w.next_ns
        w.count += 1
        w.next_ns += pass_length(w.rx, w.base_ns, w.previous_ns, start_ns, 0)
        w.previous_ns = w.last_ns = start_ns


@rule
def walk_pass(w: WalkState, start_ns: int, next_ns: int) -> None:
    """On to a pass that reads; interrupts may do so in one that is counted already."""
    count_idle(w, start_ns)
    if start_ns >= w.base_ns and (w.count == 0 or w.last_ns < start_ns):
        w.count += 1
        w.last_ns = start_ns
    w.previous_ns, w.next_ns = start_ns, next_ns


@rule
def walk_step(w: WalkState, at_ns: int, kind: int) -> None:
    """Walks on to a step of the program."""
    count_idle(w, at_ns)
    if kind == PROGRAM_STARTS:
        w.running = 1
        w.base_ns = w.next_ns = at_ns
        w.previous_ns = at_ns - 1
    elif kind == PROGRAM_STOPS:
        w.running = 0
    elif kind == PROGRAM_PAUSES:
        if w.running == 1:
            _, w.previous_ns, w.next_ns = pass_from(
                w.rx, w.base_ns, w.previous_ns, w.next_ns, at_ns
            )
        w.running = 0
        w.paused_ns = at_ns
    elif kind == PROGRAM_RESUMES:
        w.running = 1
        w.next_ns += at_ns - w.paused_ns


@rule
def passes_before(
    w: WalkState, passes: Sequence[WalkPass], steps: Sequence[WalkStep], at_ns: int
) -> int:
    """How many passes start before an instant, idle ones included; instants may not go back."""
    while True:
        pass_ns = step_ns = FOREVER_NS
        if w.taken_passes < len(passes):
            pass_ns = passes[w.taken_passes].first_ns
        is_read_first = True
        if w.taken_steps < len(steps):
            step_ns = steps[w.taken_steps].at_ns
            is_read_first = steps[w.taken_steps].reads == 1
        if min(pass_ns, step_ns) >= at_ns:
            break
        if pass_ns < step_ns or (pass_ns == step_ns and is_read_first):
            row = passes[w.taken_passes]
            w.taken_passes += 1
            walk_pass(w, row.start_ns, row.next_ns)
        else:
            step = steps[w.taken_steps]
            w.taken_steps += 1
            walk_step(w, step.at_ns, step.kind)
    count_idle(w, at_ns)
    return w.count
