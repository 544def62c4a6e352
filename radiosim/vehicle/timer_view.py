"""Watches one stream's failsafe timer beside a run that pauses, goes on and goes back."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from radiosim.engine.jit import JitBackend, Record
from radiosim.engine.plan import Plan
from radiosim.engine.timeline import FOREVER_NS
from radiosim.marks import rule
from radiosim.scenario import Scenario
from radiosim.signals.course import Points
from radiosim.trace import DTYPES, PassRow, ReadRow, Table
from radiosim.vehicle.fold.program_passes import (
    FULL,
    ROOM,
    ROOM_A_FRAME,
    fold_idle,
    fold_passes,
    fold_step,
)
from radiosim.vehicle.fold.program_state import (
    FAILSAFE,
    Columns,
    EventRecord,
    Events,
    ProgramState,
    ToldPass,
)
from radiosim.vehicle.program_fold import program_steps, reads_as_it_ends, state_of

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
    told: Sequence[ToldPass],
    e: Events,
    stream: int,
    limit_ns: int,
    is_included: bool,
    kind: int,
) -> Glance:
    """Take the passes that read before an instant, or at it too, and what happens then.

    `kind`: a step of the only program, or see above. `known_ns`, `told`: see Columns.
    """
    p = programs[0]
    c = Columns(passes, reads, known_ns, points, told)
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


NO_READS = np.zeros(0, DTYPES["reads"])
NO_PASSES = np.zeros(0, DTYPES["passes"])
_FRAMES = 512
"""Frames of one pass that there is room for."""


@dataclass(frozen=True, slots=True)
class TimerMoment:
    """All that a view holds."""

    state: npt.NDArray[np.uint8]
    reads: Table
    passes: Table
    stepped: int


class TimerView:
    """The receiver's program of one start, folded no further than a run has come.

    The same fold as everywhere (rules E and F). What an unfinished pass has read, and frames that
    stand in the FIFO, are looked at on a copy of the state: what becomes of them is not known.
    """

    def __init__(self, scenario: Scenario, plan: Plan, stream: int, backend: JitBackend) -> None:
        self._plan, self._stream, self._machine = plan, stream, backend
        self._steps = program_steps(plan)
        self._fold = backend.entry(fold_glance)
        self._events = backend.room(EventRecord, ROOM + ROOM_A_FRAME * _FRAMES)
        self._told = backend.room(ToldPass, 1)
        state, self._points = state_of(scenario, plan, backend)
        self._state, self._scratch = state.base, state.base.copy()
        self._reads, self._passes, self._stepped = NO_READS, NO_PASSES, 0
        self._is_fed_at_arrival = bool(state["is_fed_at_arrival"])
        self.is_exact = not self._is_fed_at_arrival and plan.rx.interrupt == 0
        """Rows tell all: a look needs neither FIFO nor the pass under way."""

    def moment(self) -> TimerMoment:
        """What it holds now."""
        state = self._state.view(np.uint8).copy()
        return TimerMoment(state, self._reads, self._passes, self._stepped)

    def go_back(self, moment: TimerMoment) -> None:
        """Goes back to a moment of the same start."""
        self._state.view(np.uint8)[:] = moment.state
        self._reads, self._passes, self._stepped = moment.reads, moment.passes, moment.stepped

    def take(self, reads: Table, passes: Table) -> None:
        """More rows of the run."""
        self._reads = np.concatenate((self._reads, reads)) if len(self._reads) else reads.copy()
        self._passes = (
            np.concatenate((self._passes, passes)) if len(self._passes) else passes.copy()
        )

    def look(self, at_ns: int, waiting: Table, under_way: Table) -> Glance:
        """The timer at an instant up to which all rows were taken.

        `waiting`: frames in the FIFO, as rows of reads; `under_way`: the pass that has read some
        of the rows and may read more.
        """
        seen = self._advance(at_ns)
        if self.is_exact:
            return seen
        self._scratch[:] = self._state
        reads, passes = np.concatenate((self._reads, waiting)), self._passes
        if len(under_way):
            passes = np.concatenate((passes, under_way))
        for step in self._steps[self._stepped :]:
            if step.at_ns >= at_ns:
                break
            is_late = reads_as_it_ends(self._plan, step)
            args = (FOREVER_NS, step.at_ns, is_late, step.kind)
            glance = self._folded(self._scratch, reads, passes, *args)
            seen = _later(seen, glance)
            reads, passes = reads[glance.reads_done :], passes[glance.passes_done :]
        last = self._folded(self._scratch, reads, passes, FOREVER_NS, at_ns, True, IDLES)
        return _later(seen, last)

    def _advance(self, at_ns: int) -> Glance:
        """Fold what can no longer change."""
        known_ns, seen = FOREVER_NS, None
        if self._is_fed_at_arrival:
            known_ns = int(self._reads["accepted_ns"][-1]) if len(self._reads) else 0
        while self._stepped < len(self._steps):
            step = self._steps[self._stepped]
            if step.at_ns >= min(at_ns, known_ns):
                break
            is_late = reads_as_it_ends(self._plan, step)
            seen = _later(seen, self._take_in(known_ns, step.at_ns, is_late, step.kind))
            self._stepped += 1
        if self.is_exact:
            return _later(seen, self._take_in(known_ns, at_ns, True, IDLES))
        return _later(seen, self._take_in(known_ns, min(at_ns, known_ns), True, RESTS))

    def _take_in(self, known_ns: int, limit_ns: int, is_included: bool, kind: int) -> Glance:
        args = (self._reads, self._passes, known_ns, limit_ns, is_included, kind)
        glance = self._folded(self._state, *args)
        self._reads = self._reads[glance.reads_done :]
        self._passes = self._passes[glance.passes_done :]
        return glance

    def _folded(
        self,
        state: Record,
        reads: Table,
        passes: Table,
        known_ns: int,
        limit_ns: int,
        is_included: bool,
        kind: int,
    ) -> Glance:
        rows = self._machine.rows
        glance: Glance = self._fold(
            state,
            rows(reads),
            rows(passes),
            known_ns,
            self._points,
            self._told,
            self._events,
            self._stream,
            limit_ns,
            is_included,
            kind,
        )
        if glance.is_cramped:
            raise RuntimeError(f"a pass read more than {_FRAMES} frames")
        return glance


def _later(first: Glance | None, second: Glance) -> Glance:
    """The second, with the later entry of both."""
    if first is None or first.entered_ns <= second.entered_ns:
        return second
    return second._replace(entered_ns=first.entered_ns, entered_fed_ns=first.entered_fed_ns)
