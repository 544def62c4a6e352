"""State of the receiver's program beside the link, and its failsafe timers (rules F1 to F3)."""

from collections.abc import Sequence
from typing import Any, NamedTuple

from radiosim.engine.plan_rows import (
    PROGRAM_PAUSES,
    PROGRAM_RESUMES,
    PROGRAM_STARTS,
    PROGRAM_STOPS,
    Rx,
)
from radiosim.engine.rules.timing import grid_point, pass_from, pass_length, points_until
from radiosim.engine.timeline import FOREVER_NS
from radiosim.marks import rule
from radiosim.signals.course import Points
from radiosim.trace import PassRow, ReadRow
from radiosim.vehicle.fold.values import FieldState

MOST_STREAMS = 6

STARTED, STOPPED, WRITTEN, FAILSAFE, LEFT = range(5)
"""Kinds of events; LEFT: failsafe is over, which outputs see as the next write."""


class TimerState:
    """The failsafe timer of one stream (rules F1 to F3)."""

    stream: int
    timeout_ns: int
    tick_ns: int
    """A step of the clock that it is counted by, as `Rx.tick_ns`; 0: none."""
    ppb: int
    """Error of that clock."""
    timeout_ticks: int
    """Whole steps in the timeout."""
    base_ns: int
    """When that clock began: the program's start."""
    fed_by_any: int
    fed_at_arrival: int
    resume_frames: int
    watches: int
    """A field must change to feed it."""
    watched: FieldState
    needs: int
    """A field must be near neutral to end failsafe."""
    needed: FieldState
    within: float
    neutral: float
    is_on: int
    fed_ns: int
    counted_ns: int
    in_a_row: int
    has_arrived: int
    arrived: float
    """What the watched field said in the last frame that arrived."""
    has_read: int
    last: float
    """What it said in the last frame that was read."""


class Latch:
    """The last frame of a stream that was read."""

    read: int
    """Row of the last frame among all reads of the start; −1: none since boot."""
    frame: int
    sampled_ns: int
    values_ns: int
    values_frame: int


class EventRecord:
    """Something that outputs of a stream see, at the start of a pass or at a step."""

    stream: int
    at_ns: int
    kind: int
    fed_ns: int
    """When the timer was last fed, for FAILSAFE."""
    read: int
    """Row among all reads of the start of what is written; −1 for other kinds."""
    frame: int
    """What that row says, for WRITTEN."""
    sampled_ns: int
    values_ns: int
    values_frame: int


class ProgramState:
    """The program's passes, latches and timers."""

    rx: Rx
    streams: int
    timers: int
    timer: Sequence[TimerState]
    timer_of: list[int]
    """Timer of each stream; −1: none."""
    is_fed_at_arrival: int
    """Some timer is."""
    running: int
    paused: int
    must_write: int
    """The pass at `next_ns` has reads of interrupts to write."""
    base_ns: int
    previous_ns: int
    next_ns: int
    paused_ns: int
    latched: Sequence[Latch]
    unwritten: list[int]
    """Whether a stream's latch has not reached the outputs, by stream."""
    told_ns: int
    """No event before this instant is still to come."""
    rows: int
    """Reads of the start before those at hand."""
    taken_passes: int
    """Number of the rows at hand that are taken."""
    taken_reads: int
    taken_arrivals: int
    events: int
    """Events made and not yet handed over."""
    writes: int
    """Number of events that are WRITTEN."""
    tells_passes: int
    """Passes that read frames are told."""
    told_passes: int
    """Passes told and not yet handed over."""


class ToldPass:
    """A WalkPass as it is written down."""

    first_ns: int
    start_ns: int
    next_ns: int


class Columns(NamedTuple):
    """The rows at hand: a trace's, or some of them."""

    passes: Sequence[PassRow]
    reads: Sequence[ReadRow]
    known_ns: int
    """All that arrived before this instant stands in `reads`, read or not."""
    points: Points
    """Points of the signals of fields that timers watch or need."""
    told: Sequence[ToldPass]
    """Room for passes that are told."""


Events = Any
"""Room for events: records, or objects."""


@rule
def start_timer(timer: TimerState, now: int) -> None:
    """The program has booted: the timer is on, which is no entry."""
    timer.is_on = 1
    timer.base_ns = timer.fed_ns = timer.counted_ns = now
    timer.in_a_row = timer.has_arrived = timer.has_read = 0


@rule
def over_at(timer: TimerState, since_ns: int) -> int:
    """The first instant at which more than the timeout is over since another (rule F2).

    A clock that goes in steps tells both instants as the last step before them.
    """
    if timer.tick_ns == 0:
        return since_ns + timer.timeout_ns + 1
    ticks = points_until(since_ns - timer.base_ns, timer.tick_ns, timer.ppb) + timer.timeout_ticks
    return timer.base_ns + grid_point(ticks, timer.tick_ns, timer.ppb)


@rule
def counts(timer: TimerState, stream: int) -> bool:
    """Whether frames of a stream feed it."""
    return timer.fed_by_any == 1 or stream == timer.stream


@rule
def arrives(timer: TimerState, stream: int, now: int, watched: float) -> None:
    """A frame has entered the FIFO; it feeds a timer that is fed at arrival.

    `watched`: what the watched field of an own frame says; of no meaning without one.
    """
    if timer.fed_at_arrival == 0 or not counts(timer, stream):
        return
    if timer.watches == 1 and stream == timer.stream:
        is_unchanged = timer.has_arrived == 1 and watched == timer.arrived
        timer.has_arrived, timer.arrived = 1, watched
        if is_unchanged:
            return
    timer.fed_ns = now


@rule
def is_read(timer: TimerState, stream: int, now: int, watched: float) -> bool:
    """The program reads a frame; true if that counts towards the end of failsafe (F1, F3)."""
    if not counts(timer, stream):
        return False
    if timer.watches == 1 and stream == timer.stream:
        is_unchanged = timer.has_read == 1 and watched == timer.last
        timer.has_read, timer.last = 1, watched
        if is_unchanged:
            return False
    if timer.fed_at_arrival == 0:
        timer.fed_ns = now
    if timer.in_a_row > 0 and now >= over_at(timer, timer.counted_ns):
        timer.in_a_row = 0
    timer.in_a_row += 1
    timer.counted_ns = now
    # A frame that waited too long to feed a timer that is fed at arrival cannot clear it.
    is_fed = now < over_at(timer, timer.fed_ns)
    return timer.is_on == 1 and is_fed and timer.in_a_row >= timer.resume_frames


@rule
def may_resume(timer: TimerState, is_latched: bool, needed: float) -> bool:
    """Whether the latched value of the needed field lets outputs come alive again (rule F3)."""
    if timer.needs == 0:
        return True
    return is_latched and abs(needed - timer.neutral) <= timer.within


@rule
def runs_out(timer: TimerState, at_ns: int) -> bool:
    """Whether a look at this instant finds the timer over (rule F2)."""
    return timer.is_on == 0 and at_ns >= over_at(timer, timer.fed_ns)


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
    w: WalkState, passes: Sequence[ToldPass], steps: Sequence[WalkStep], at_ns: int
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
