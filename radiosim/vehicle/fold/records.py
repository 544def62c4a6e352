"""State of the receiver's program beside the link: timers, latches, passes."""

from collections.abc import Sequence
from typing import Any, NamedTuple

from radiosim.engine.plan_rows import Rx
from radiosim.signals.course import Points
from radiosim.trace import PassRow, ReadRow
from radiosim.vehicle.fold.field import FieldState

MOST_STREAMS = 6

STARTED, STOPPED, WRITTEN, FAILSAFE, LEFT = range(5)
"""Kinds of events; LEFT: failsafe is over, which outputs see as the next write."""


class TimerState:
    """The failsafe timer of one stream (rules F1 to F3)."""

    stream: int
    timeout_ns: int
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
    """Its row among all reads of the start; −1: none since boot."""
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
    """For FAILSAFE: when the timer was last fed."""
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
    """By stream: its timer; −1: none."""
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
    """By stream: the latch has not reached the outputs."""
    told_ns: int
    """No event before this instant is still to come."""
    rows: int
    """Reads of the start before those at hand."""
    taken_passes: int
    """Of the rows at hand."""
    taken_reads: int
    taken_arrivals: int
    events: int
    """Events made and not yet handed over."""
    writes: int
    """Of those, WRITTEN."""


class Columns(NamedTuple):
    """The rows at hand: a trace's, or some of them."""

    passes: Sequence[PassRow]
    reads: Sequence[ReadRow]
    known_ns: int
    """All that arrived before this instant stands in `reads`, read or not."""
    points: Points
    """Of the signals of fields that timers watch or need."""


Events = Any
"""Room for events: records, or objects."""
