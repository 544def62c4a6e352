"""When the receiver program's passes start (rule E1).

A pass that reads nothing leaves no trace: it follows from the one before by arithmetic.
`previous_ns` is the start of the pass before the one at `next_ns`.
"""

from radiosim.engine.plan_rows import Rx
from radiosim.engine.rules.grid import point_after, points_until
from radiosim.marks import rule


@rule
def work_due(rx: Rx, base_ns: int, previous_ns: int, start_ns: int) -> int:
    """Time of all work that fell due after one pass and until the start of the next, ns."""
    takes_ns = 0
    for j in range(rx.works):
        work = rx.work[j]
        since_ns = base_ns + work.offset_ns
        before = points_until(previous_ns - since_ns, work.every_ns, rx.ppb)
        if points_until(start_ns - since_ns, work.every_ns, rx.ppb) > before:
            takes_ns += work.takes_ns
    return takes_ns


@rule
def interrupts_off_due(rx: Rx, base_ns: int, previous_ns: int, start_ns: int) -> int:
    """The part of `work_due` that holds interrupts back; it comes first in a pass (E2)."""
    takes_ns = 0
    for j in range(rx.works):
        work = rx.work[j]
        if work.interrupts_off == 0:
            continue
        since_ns = base_ns + work.offset_ns
        before = points_until(previous_ns - since_ns, work.every_ns, rx.ppb)
        if points_until(start_ns - since_ns, work.every_ns, rx.ppb) > before:
            takes_ns += work.takes_ns
    return takes_ns


@rule
def pass_length(rx: Rx, base_ns: int, previous_ns: int, start_ns: int, reading_ns: int) -> int:
    """Length of the pass at `start_ns`, ns (rule E1)."""
    if rx.works == 0:
        return rx.pass_ns + reading_ns
    return rx.pass_ns + reading_ns + work_due(rx, base_ns, previous_ns, start_ns)


@rule
def next_work_after(rx: Rx, base_ns: int, at_ns: int) -> int:
    """The first instant after `at_ns` at which work falls due, at most 2⁶² ns."""
    first_ns = 1 << 62
    for j in range(rx.works):
        work = rx.work[j]
        since_ns = base_ns + work.offset_ns
        due_ns = since_ns + point_after(at_ns - since_ns, work.every_ns, rx.ppb)
        first_ns = min(first_ns, due_ns)
    return first_ns


@rule
def pass_from(
    rx: Rx, base_ns: int, previous_ns: int, next_ns: int, at_ns: int
) -> tuple[int, int, int]:
    """The first pass at or after `at_ns`, if all until then are idle.

    Returns the starts of the two passes before it and of the pass itself, ns.
    """
    before_ns = previous_ns
    while next_ns < at_ns:
        limit_ns = at_ns
        if rx.works > 0:
            due_ns = next_work_after(rx, base_ns, previous_ns)
            if due_ns <= next_ns:
                before_ns, previous_ns = previous_ns, next_ns
                next_ns += pass_length(rx, base_ns, before_ns, previous_ns, 0)
                continue
            limit_ns = min(at_ns, due_ns)
        steps = -((next_ns - limit_ns) // rx.pass_ns)
        last_ns = next_ns + (steps - 1) * rx.pass_ns
        before_ns = last_ns - rx.pass_ns if steps > 1 else previous_ns
        previous_ns, next_ns = last_ns, last_ns + rx.pass_ns
    return before_ns, previous_ns, next_ns
