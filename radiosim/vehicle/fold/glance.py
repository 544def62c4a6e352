"""The receiver's program as far as rows are known: what does its timer say at an instant?"""

from collections.abc import Sequence
from typing import NamedTuple

from radiosim.marks import rule
from radiosim.signals.course import Points
from radiosim.trace import PassRow, ReadRow
from radiosim.vehicle.fold.program import FULL, fold_idle, fold_passes, fold_step
from radiosim.vehicle.fold.records import FAILSAFE, Columns, Events, ProgramState

NEVER = -1
IDLES, RESTS = -1, -2
"""Instead of a step: the program idles until the instant; or all that is known are the rows."""


class Glance(NamedTuple):
    """One stream's timer."""

    fed_ns: int
    """When it was last fed."""
    is_on: int
    """Failsafe is on."""
    entered_ns: int
    """The last entry that the rows at hand show; −1: none."""
    entered_fed_ns: int
    """When the timer was last fed before that."""
    reads_done: int
    """Rows that need not be handed in again."""
    passes_done: int
    is_cramped: int
    """There is too little room for the events of one pass: nothing is right."""


@rule
def note_entries(p: ProgramState, e: Events, stream: int, last: tuple[int, int]) -> tuple[int, int]:
    """The last entry of a stream among the events, (instant, last feed before it); empties them."""
    for k in range(p.events):
        if e[k].kind == FAILSAFE and e[k].stream == stream:
            last = e[k].at_ns, e[k].fed_ns
    p.events = 0
    return last


@rule
def let_go(p: ProgramState) -> tuple[int, int]:
    """How many reads and passes are done with; what is at hand next begins after them."""
    reads, passes = p.taken_reads, p.taken_passes
    if p.is_fed_at_arrival == 1:
        reads = min(reads, p.taken_arrivals)
    p.rows += reads
    p.taken_reads -= reads
    p.taken_arrivals = max(0, p.taken_arrivals - reads)
    p.taken_passes = 0
    return reads, passes


def fold_glance(
    programs: Sequence[ProgramState],
    reads: Sequence[ReadRow],
    passes: Sequence[PassRow],
    known_ns: int,
    points: Points,
    e: Events,
    stream: int,
    limit_ns: int,
    is_included: bool,
    kind: int,
) -> Glance:
    """Take the passes that read before an instant, or at it too, and what happens then.

    `kind`: a step of the only program, or see above. `known_ns`: see Columns.
    """
    p = programs[0]
    c = Columns(passes, reads, known_ns, points)
    last, is_cramped, why = (NEVER, NEVER), 0, FULL
    while why == FULL and is_cramped == 0:
        why = fold_passes(p, c, e, limit_ns, is_included)
        is_cramped = 1 if why == FULL and p.events == 0 else 0
        last = note_entries(p, e, stream, last)
    if kind == IDLES:
        fold_idle(p, c, e, limit_ns)
    elif kind != RESTS:
        fold_step(p, c, e, kind, limit_ns)
    last = note_entries(p, e, stream, last)
    timer = p.timer[p.timer_of[stream]]
    reads_done, passes_done = let_go(p)
    return Glance(timer.fed_ns, timer.is_on, last[0], last[1], reads_done, passes_done, is_cramped)
