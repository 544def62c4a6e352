"""The world of the loop as one nested record; every field is made from an annotation."""

import functools
from collections.abc import Sequence
from typing import Annotated, Any

import numpy as np

from radiosim.engine.order import slots
from radiosim.engine.plan_rows import MOST_EMITTERS, MOST_POINTS, Rx, Tx
from radiosim.engine.records import dtype_of
from radiosim.radio.waves import WAVES
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
    settled_ns: int
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
    settled_ns: int
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
    fill: int
    fifo: Sequence[Frame]
    memory: Sequence[Memory]
    answering: int
    """A flight is being answered; its stream, frame and attempt follow."""
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
    answered: int
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
    counts |= {"wave": WAVES + 1, "track": MOST_POINTS, "emitter": MOST_EMITTERS}
    return dtype_of(World, counts | {"fifo": depth, "due": slots(MOST_TRANSMITTERS) + 3})
