"""All of one start in one call: the loop, and every fold over its rows as they come.

The folds are those of rows that go by (`vehicle/`, `measure/`), each with machine code of its own.
How far it is stands in records, so that a call can come back and be made again. Loads LLVM.
"""

from collections.abc import Sequence
from typing import NamedTuple

from radiosim.engine.fast.loop import (
    ASK,
    END,
    STEP,
    Worlds,
    advance,
    close,
    set_stop,
    take_step,
)
from radiosim.engine.fast.world import ROWS
from radiosim.engine.plan_rows import Step
from radiosim.engine.timeline import FOREVER_NS
from radiosim.machine import compiled
from radiosim.measure import of_output, stream_rows
from radiosim.measure.of_output import OutputFiguresState
from radiosim.measure.stream_rows import BusyState, StreamState
from radiosim.signals.course import Points
from radiosim.vehicle.fold import output_effects, program_passes
from radiosim.vehicle.fold.output_effects import CommandInputs, Effects, Entries, OutputState
from radiosim.vehicle.fold.program_passes import FULL, ROOM, WANTS_ROWS
from radiosim.vehicle.fold.program_state import (
    WRITTEN,
    Columns,
    EventRecord,
    Events,
    ProgramState,
    ToldPass,
    WalkStep,
)
from radiosim.vehicle.fold.values import PartState

OVER, CRAMPED, TOLD, RARE_FULL = range(ASK + 1, ASK + 5)
"""Why a call comes back: the end; no room for so many rows at once; deeds of an output want
taking; so do events that are no writes. ASK: bytes must be compared."""
RUN, TAKE_PASSES, HAND_OVER, TELL_OUTPUTS, KEEP, IDLE, FINISH = range(7)
"""What comes next."""

fold_rows, end_streams = compiled(stream_rows.fold_rows), compiled(stream_rows.fold_end)
fold_passes = compiled(program_passes.fold_passes)
fold_step, fold_idle = compiled(program_passes.fold_step), compiled(program_passes.fold_idle)
fold_output = compiled(output_effects.fold_output)
fold_effects, end_output = compiled(of_output.fold_effects), compiled(of_output.fold_end)


class StartState:
    """How far one start is."""

    until_ns: int
    batch: int
    """Events after which outputs take them."""
    tells: int
    """Deeds of outputs want taking."""
    next: int
    after: int
    """What comes after outputs have taken the events."""
    is_over: int
    """No more rows come."""
    steps: int
    """Steps of the plan that were taken."""
    program_steps: int
    """Those of the receiver's program that its fold has taken."""
    kept_reads: int
    """Reads that stand before the new ones, for they could not be taken yet."""
    output: int
    """The output whose turn it is."""
    told: int
    """The one whose deeds want taking."""
    rare: int
    """Events noted that are no writes."""


class OutputUnit:
    """One output and its figures."""

    state: OutputState
    figures: OutputFiguresState
    first_part: int
    """The first of the fields that it follows, and one past the last; the same of their points."""
    end_part: int
    first_point: int
    end_point: int


class Tables(NamedTuple):
    """All that a start is made in."""

    states: Sequence[StartState]
    worlds: Worlds
    steps: Sequence[Step]
    program_steps: Sequence[WalkStep]
    busy: BusyState
    streams: Sequence[StreamState]
    program: ProgramState
    points: Points
    """Points of the signals of fields that timers watch or need."""
    events: Events
    passes: Sequence[ToldPass]
    """Room for passes that read frames, for outputs with smoothing."""
    outputs: Sequence[OutputUnit]
    parts: Sequence[PartState]
    """The fields that outputs follow, and the points of their signals: of one after the other."""
    part_points: Points
    stops_ns: Sequence[int]
    """When pins float; the end of the run last."""
    entries: Entries
    effects: Effects
    rare: Sequence[EventRecord]


def next_step_ns(t: Tables) -> int:
    """When the next step of the plan is due."""
    taken = t.states[0].steps
    return t.steps[taken].at_ns if taken < len(t.steps) else FOREVER_NS


def run(t: Tables) -> bool:
    """Run until tables are full, or the end; false: bytes must be compared first."""
    s, w, why = t.states[0], t.worlds[0], STEP
    while why == STEP:
        set_stop(t.worlds, next_step_ns(t))
        why = advance(t.worlds)
        if why == ASK:
            return False
        if why == STEP:
            step = t.steps[s.steps]
            s.steps += 1
            take_step(
                t.worlds, step.unit, step.kind, step.at_ns, step.stream, step.frame, step.asks
            )
    if why == END:
        s.is_over = 1
        close(t.worlds)
    fold_rows(
        t.busy,
        t.streams,
        w.attempts[: w.attempts_n],
        w.acknowledgements[: w.acknowledgements_n],
        w.frames[: w.frames_n],
        w.reads[s.kept_reads : w.reads_n],
    )
    s.next = TAKE_PASSES
    return True


def columns_of(t: Tables) -> Columns:
    """The rows at hand."""
    w, known_ns = t.worlds[0], FOREVER_NS
    if t.states[0].is_over == 0:
        known_ns = w.reads[w.reads_n - 1].accepted_ns if w.reads_n > 0 else 0
    return Columns(w.passes[: w.passes_n], w.reads[: w.reads_n], known_ns, t.points, t.passes)


def take_passes(t: Tables) -> bool:
    """Take passes up to the program's next step, and that; false: one of them finds no room."""
    s, p, c = t.states[0], t.program, columns_of(t)
    limit_ns, is_included, has_step = FOREVER_NS, True, s.program_steps < len(t.program_steps)
    if has_step:
        limit_ns = t.program_steps[s.program_steps].at_ns
        is_included = t.program_steps[s.program_steps].reads == 1
    why = fold_passes(p, c, t.events, limit_ns, is_included)
    if why == FULL and p.events == 0 and p.told_passes < len(t.passes):
        return False
    if why == FULL or p.events + ROOM > len(t.events):
        s.next, s.after = HAND_OVER, TAKE_PASSES
    elif not has_step or (why == WANTS_ROWS and s.is_over == 0):
        s.after = IDLE if s.is_over == 1 else KEEP
        is_due = s.is_over == 1 or p.tells_passes == 1 or p.events >= s.batch
        s.next = HAND_OVER if is_due else s.after
    else:
        fold_step(p, c, t.events, t.program_steps[s.program_steps].kind, limit_ns)
        s.program_steps += 1
    return True


def note_rare(t: Tables) -> bool:
    """Note the events that are no writes; false: there is no more room."""
    s, p = t.states[0], t.program
    if s.rare + p.events - p.writes > len(t.rare):
        return False
    for k in range(p.events):
        event = t.events[k]
        if event.kind != WRITTEN:
            to = t.rare[s.rare]
            s.rare += 1
            to.stream = event.stream
            to.at_ns = event.at_ns
            to.kind = event.kind
            to.fed_ns = event.fed_ns
    return True


def tell_output(t: Tables) -> bool:
    """The next output takes the events; false: what it did wants taking."""
    s, p = t.states[0], t.program
    unit = t.outputs[s.output]
    s.told = s.output
    c = CommandInputs(
        t.events[: p.events],
        t.parts[unit.first_part : unit.end_part],
        t.part_points[unit.first_point : unit.end_point],
        t.stops_ns,
        t.passes[: p.told_passes],
        t.program_steps,
        p.told_ns,
    )
    if fold_output(unit.state, c, t.entries, t.effects):
        s.output += 1
    fold_effects(unit.figures, t.effects[: unit.state.effects])
    return s.tells == 0 or (unit.state.told == 0 and unit.state.effects == 0)


def let_go_of_passes(t: Tables) -> None:
    """Those that every output with smoothing has taken."""
    p = t.program
    taken = p.told_passes
    for k in range(len(t.outputs)):
        if t.outputs[k].state.step_ns > 0:
            taken = min(taken, t.outputs[k].state.walk.taken_passes)
    for k in range(len(t.outputs)):
        if t.outputs[k].state.step_ns > 0:
            t.outputs[k].state.walk.taken_passes -= taken
    for k in range(taken, p.told_passes):
        to, row = t.passes[k - taken], t.passes[k]
        to.first_ns = row.first_ns
        to.start_ns = row.start_ns
        to.next_ns = row.next_ns
    p.told_passes -= taken


def keep_rows(t: Tables) -> bool:
    """Rows that are not taken stand before those that come next; false: they fill the tables."""
    s, w, p = t.states[0], t.worlds[0], t.program
    done = min(p.taken_reads, p.taken_arrivals) if p.is_fed_at_arrival == 1 else p.taken_reads
    if w.reads_n - done >= ROWS or w.passes_n - p.taken_passes >= ROWS:
        return False
    for k in range(done, w.reads_n):
        to, read = w.reads[k - done], w.reads[k]
        to.stream = read.stream
        to.frame = read.frame
        to.sampled_ns = read.sampled_ns
        to.values_ns = read.values_ns
        to.values_frame = read.values_frame
        to.accepted_ns = read.accepted_ns
        to.read_ns = read.read_ns
        to.outcome = read.outcome
    for k in range(p.taken_passes, w.passes_n):
        row, taken = w.passes[k - p.taken_passes], w.passes[k]
        row.start_ns = taken.start_ns
        row.next_ns = taken.next_ns
        row.frames = taken.frames
    p.rows += done
    p.taken_reads -= done
    p.taken_arrivals = max(0, p.taken_arrivals - done)
    w.reads_n -= done
    w.passes_n -= p.taken_passes
    s.kept_reads = w.reads_n
    w.attempts_n = w.acknowledgements_n = w.frames_n = p.taken_passes = 0
    s.next = RUN
    return True


def hand_over(t: Tables) -> int:
    """Timers and outputs take the events; a reason to come back, or 0."""
    s, p = t.states[0], t.program
    if s.next == HAND_OVER:
        if not note_rare(t):
            return RARE_FULL
        s.next, s.output = TELL_OUTPUTS, 0
    while s.output < len(t.outputs):
        if not tell_output(t):
            return TOLD
    let_go_of_passes(t)
    p.events = p.writes = 0
    s.next = s.after
    return 0


def go_on(t: Tables) -> int:
    """Take what comes next; a reason to come back, or 0."""
    s = t.states[0]
    if s.next == RUN:
        return 0 if run(t) else ASK
    if s.next == TAKE_PASSES:
        return 0 if take_passes(t) else CRAMPED
    if s.next in (HAND_OVER, TELL_OUTPUTS):
        return hand_over(t)
    if s.next == KEEP:
        return 0 if keep_rows(t) else CRAMPED
    fold_idle(t.program, columns_of(t), t.events, s.until_ns)
    s.next, s.after = HAND_OVER, FINISH
    return 0


def fold_start(t: Tables) -> int:
    """Go on until the end, or until there is a reason to come back."""
    s = t.states[0]
    while s.next != FINISH:
        why = go_on(t)
        if why != 0:
            return why
    end_streams(t.streams, s.until_ns)
    for k in range(len(t.outputs)):
        end_output(t.outputs[k].figures, s.until_ns)
    return OVER
