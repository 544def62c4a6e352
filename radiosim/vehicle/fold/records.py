"""State of the receiver's program beside the link: timers, latches, passes."""

from collections.abc import Sequence
from typing import NamedTuple

from radiosim.engine.payload import Instants, Values
from radiosim.engine.plan_rows import Rx

MOST_STREAMS = 6
EVENTS, MARGIN = 4096, 2048
"""Events after which the fold hands over, and room for what one more pass can add."""

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
    needs: int
    """A field must be near neutral to end failsafe."""
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


class EventRecord:
    """Something that outputs of a stream see, at the start of a pass or at a step."""

    stream: int
    at_ns: int
    kind: int
    read: int
    """Row of the trace's reads that is written; −1 for other kinds."""
    fed_ns: int
    """For FAILSAFE: when the timer was last fed."""


class ProgramState:
    """The program's passes, latches and timers."""

    rx: Rx
    streams: int
    timers: int
    timer: Sequence[TimerState]
    timer_of: list[int]
    """By stream: its timer; −1: none."""
    running: int
    paused: int
    must_write: int
    """The pass at `next_ns` has reads of interrupts to write."""
    base_ns: int
    previous_ns: int
    next_ns: int
    paused_ns: int
    latched: list[int]
    """By stream: row of the last frame read; −1: none."""
    unwritten: list[int]
    """By stream: the latch has not reached the outputs."""
    taken_passes: int
    taken_reads: int
    taken_arrivals: int
    events: int
    event: Sequence[EventRecord]


class Columns(NamedTuple):
    """A trace's rows that the program saw, column by column."""

    pass_start_ns: Instants
    pass_next_ns: Instants
    pass_frames: Instants
    read_ns: Instants
    read_stream: Instants
    read_outcome: Instants
    read_row: Instants
    """Row of the trace's reads."""
    arrival_ns: Instants
    """Empty unless a timer is fed at arrival; arrivals stand in the rows of the reads."""
    arrival_stream: Instants
    watched: Values
    """By timer and row of the reads: what its watched field says."""
    needed: Values
