"""What the rules read: one start of a scene in whole numbers.

Every span is in ns and already scaled by its unit's clock, unless a rule scales it from the
start of its grid (`ppb` is then at hand).
"""

from typing import NamedTuple

PLAIN, FLAGGED, ANSWERED = range(3)
"""acknowledge = false, "flag", true (rule B2)."""
SKIP, WAIT, QUEUE, REPLACE = range(4)
"""when_busy (rule A6)."""
ONE, ALL, NEWEST = range(3)
"""read (rule E1)."""


class Work(NamedTuple):
    """A thing that holds a program or its radio up now and then, on a grid from its start."""

    offset_ns: int
    every_ns: int
    takes_ns: int
    interrupts_off: int


class Tx(NamedTuple):
    """A transmitter."""

    pacing: int
    offset_ns: int
    period_ns: int
    """With pacing = "after_send" the pause. Not scaled: `ppb` is."""
    ppb: int
    jitter_ns: int
    loop_ns: int
    prepare_ns: int
    acknowledge: int
    when_busy: int
    flush_on_give_up: int
    start_held: int
    fifo_frames: int
    upload_ns: int
    settle_ns: int
    frame_ns: int
    address_ns: int
    """From a frame's start to the end of its address."""
    ack_ns: int
    ack_address_ns: int
    window_ns: int
    interrupt_ns: int
    retry_ns: int
    """From the end of an attempt to the start of the next on the air."""
    retry_limit: int
    loss_53: int
    ack_loss_53: int
    power_mw: float
    address_of: int
    """The first transmitter in file order that has the same address; often itself."""
    memory: int
    """Which packet memory of the receiver its frames meet (rule D3)."""
    reading_ns: int
    """What the receiver's program takes to read one of its frames."""
    key_low: int
    key_high: int
    branch: int
    """Which of the futures of a copied world; 0: the one that ran."""
    works: int
    work: tuple[Work, ...]


class Rx(NamedTuple):
    """The receiver."""

    ppb: int
    pass_ns: int
    """One idle pass: pass_ms + delay_ms."""
    read: int
    interrupt: int
    fifo_frames: int
    acknowledge_when_full: int
    settle_ns: int
    interrupt_ns: int
    cochannel_ratio: float
    power_mw: float
    works: int
    work: tuple[Work, ...]
    deafs: int
    deaf: tuple[Work, ...]


# Kinds of steps: what faults and boots come down to (see timeline.py).
STEPS = (
    "program starts",
    "program stops",
    "program pauses",
    "program resumes",
    "radio starts",
    "radio stops",
    "fifo emptied",
    "values freeze",
    "values thaw",
)
(
    PROGRAM_STARTS,
    PROGRAM_STOPS,
    PROGRAM_PAUSES,
    PROGRAM_RESUMES,
    RADIO_STARTS,
    RADIO_STOPS,
    FIFO_EMPTIED,
    VALUES_FREEZE,
    VALUES_THAW,
) = range(len(STEPS))


class Step(NamedTuple):
    """One thing that happens to one unit from outside; the receiver is unit n."""

    at_ns: int
    unit: int
    kind: int
