"""The compiled world: its state as one nested record, what is due when, and the rows it writes.

A number is the instant times 64 plus the slot: of two things at one instant the lower slot is
the smaller number (rule T4), and no two numbers are equal.
"""

import functools
from collections.abc import Sequence
from typing import Annotated, Any

import numpy as np

from radiosim.engine.jit import ANTENNA_COUNTS, dtype_of
from radiosim.engine.plan_rows import MOST_EMITTERS, MOST_POINTS, Rx, Tx
from radiosim.engine.rules.slots import slots
from radiosim.radio.propagation import WAVES
from radiosim.trace import AcknowledgementRow, AttemptRow, FrameRow, PassRow, ReadRow

MOST_TRANSMITTERS = 6
ROWS = 1024
"""Rows that a table takes before the loop hands it over."""


class Frame:
    """A frame from its sample until it is done; what it says stands in reference/air.py."""

    stream: int
    frame: int
    sampled_ns: int
    values_ns: int
    values_frame: int
    number: int
    ready_ns: int
    attempts: int
    slot: int
    accepted_ns: int
    """When it stood in the receive FIFO, if it stands there."""


class Transmitter:
    """A transmitter: its program, then its radio."""

    running: int
    paused: int
    stale: int
    base_ns: int
    tick: int
    dithered_ns: int
    frames: int
    values_ns: int
    values_frame: int
    has_values: int
    prepares: int
    prepared_ns: int
    sampled: Frame
    preparing: Frame
    remembers: int
    memory: Frame
    sampled_ns: int
    waits: int
    """A program without a timer waits for its radio."""
    next_ns: int

    on: int
    busy: int
    number: int
    fill: int
    fifo: Sequence[Frame]
    tried: int
    flying: int
    start_ns: int
    end_ns: int
    hit_ns: int
    shut_out: int
    level_mw: float
    """Of its flight, at the receiver; what follows is that of reference/air.py's signals."""
    budget: float
    quiet_rate: float
    errors: float
    accrued_ns: int
    faint: int
    gain: float
    ack_budget: float
    is_bad: int
    away: int
    shadow: float
    shadow_step: int
    listening: int
    listening_ns: int
    caught: int
    due_ns: int
    is_last: int


class Memory:
    """What one packet memory of the receiver holds."""

    known: int
    stream: int
    frame: int
    number: int
    values_ns: int
    values_frame: int


class Heard:
    """Which attempt's acknowledgement a transmitter listens for as one goes on the air."""

    listens: int
    frame: int
    attempt: int
    level_mw: float
    budget: float
    quiet_rate: float
    errors: float
    accrued_ns: int
    hit_ns: int
    faint: int


class World:
    """Everything that lives in one start."""

    n: int
    until_ns: int
    tx: Sequence[Tx]
    rx: Rx
    transmitter: Sequence[Transmitter]
    due: list[int]
    """Instant of the next event in each slot of rule T4."""

    on_since_ns: int
    listening_ns: int
    signal_ns: int
    """When the last signal that the receiver could hear ended."""
    fill: int
    fifo: Sequence[Frame]
    memory: Sequence[Memory]
    acknowledging: int
    """A flight is being acknowledged; its stream, frame and attempt follow."""
    earner: int
    earner_frame: int
    earner_attempt: int
    ack_drawn_53: int
    ack_lost: int
    ack_on: int
    ack_start_ns: int
    ack_hit: int
    heard: Sequence[Heard]

    jammed: int
    burst: int
    state_ends_ns: int
    bad: int

    running: int
    paused: int
    base_ns: int
    before_ns: int
    previous_ns: int
    next_ns: int
    coming_before_ns: int
    coming_previous_ns: int
    coming_next_ns: int
    paused_ns: int
    resumed_ns: int
    read_in_pass: int

    asking: int
    """Transmitter whose frame must be compared byte by byte; −1: none."""
    acknowledged: int
    """The comparison that was asked for has been made."""
    same: int

    steps: int
    attempts_n: int
    acknowledgements_n: int
    frames_n: int
    reads_n: int
    passes_n: int
    # Rows of the trace are written field by field here, which their types forbid elsewhere.
    attempts: Annotated[Any, AttemptRow]
    acknowledgements: Annotated[Any, AcknowledgementRow]
    frames: Annotated[Any, FrameRow]
    reads: Annotated[Any, ReadRow]
    passes: Annotated[Any, PassRow]


TABLES = ("attempts", "acknowledgements", "frames", "reads", "passes")


@functools.cache
def world_dtype(depth: int, works: int) -> np.dtype[Any]:
    """The world with FIFOs of up to `depth` frames and up to `works` works a program."""
    rows = ROWS + MOST_TRANSMITTERS * (depth + 2) + depth
    transmitters = dict.fromkeys(("tx", "transmitter", "memory", "heard"), MOST_TRANSMITTERS)
    held_up = dict.fromkeys(("work", "deaf"), works)
    counts = dict.fromkeys(TABLES, rows) | transmitters | held_up
    counts |= {"wave": WAVES + 1, "track": MOST_POINTS, "emitter": MOST_EMITTERS} | ANTENNA_COUNTS
    return dtype_of(World, counts | {"fifo": depth, "due": slots(MOST_TRANSMITTERS) + 3})


SLOT_BITS = 6
NEVER = 1 << 62


def set_due(w: World, slot: int, at_ns: int) -> None:
    """Something is due; what would come after the end of the run never does."""
    w.due[slot] = (at_ns << SLOT_BITS) | slot if at_ns < w.until_ns else NEVER


def clear_due(w: World, slot: int) -> None:
    """Nothing is due in a slot."""
    w.due[slot] = NEVER


def is_due(w: World, slot: int) -> bool:
    """Whether something is."""
    return w.due[slot] != NEVER


def first_due(w: World) -> int:
    """The smallest number; NEVER if nothing is due any more."""
    a = b = c = d = NEVER
    for slot in range(0, slots(w.n), 4):
        a = min(a, w.due[slot])
        b = min(b, w.due[slot + 1])
        c = min(c, w.due[slot + 2])
        d = min(d, w.due[slot + 3])
    return min(a, b, c, d)


def log_attempt(w: World, i: int, end_ns: int, fate: int) -> None:
    """An attempt is over."""
    row, transmitter = w.attempts[w.attempts_n], w.transmitter[i]
    frame = transmitter.fifo[0]
    w.attempts_n += 1
    row.stream = i
    row.frame = frame.frame
    row.attempt = frame.attempts
    row.slot = frame.slot
    row.number = frame.number
    row.start_ns = transmitter.start_ns
    row.end_ns = end_ns
    row.fate = fate


def log_acknowledgement(w: World, end_ns: int, fate: int, takers: int) -> None:
    """An acknowledgement is over."""
    row = w.acknowledgements[w.acknowledgements_n]
    w.acknowledgements_n += 1
    row.stream = w.earner
    row.frame = w.earner_frame
    row.attempt = w.earner_attempt
    row.start_ns = w.ack_start_ns
    row.end_ns = end_ns
    row.fate = fate
    row.takers = takers


def log_frame(w: World, frame: Frame, done_ns: int, outcome: int) -> None:
    """A frame is over at its transmitter's end, or kept for another slot."""
    row = w.frames[w.frames_n]
    w.frames_n += 1
    row.stream = frame.stream
    row.frame = frame.frame
    row.attempts = frame.attempts
    row.sampled_ns = frame.sampled_ns
    row.values_ns = frame.values_ns
    row.values_frame = frame.values_frame
    row.done_ns = done_ns
    row.outcome = outcome


def log_read(w: World, held: Frame, read_ns: int, outcome: int) -> None:
    """An accepted frame leaves the FIFO, or the run ends with it there."""
    row = w.reads[w.reads_n]
    w.reads_n += 1
    row.stream = held.stream
    row.frame = held.frame
    row.sampled_ns = held.sampled_ns
    row.values_ns = held.values_ns
    row.values_frame = held.values_frame
    row.accepted_ns = held.accepted_ns
    row.read_ns = read_ns
    row.outcome = outcome


def log_pass(w: World, start_ns: int, next_ns: int, frames: int) -> None:
    """A pass read frames."""
    row = w.passes[w.passes_n]
    w.passes_n += 1
    row.start_ns = start_ns
    row.next_ns = next_ns
    row.frames = frames


def copy_frame(to: Frame, frame: Frame) -> None:
    """All that a frame says."""
    to.stream = frame.stream
    to.frame = frame.frame
    to.sampled_ns = frame.sampled_ns
    to.values_ns = frame.values_ns
    to.values_frame = frame.values_frame
    to.number = frame.number
    to.ready_ns = frame.ready_ns
    to.attempts = frame.attempts
    to.slot = frame.slot
    to.accepted_ns = frame.accepted_ns
