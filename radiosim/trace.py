"""What happened in one start: tables of rows, written once, when the fate is known."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from enum import IntEnum
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from radiosim.marks import rule
from radiosim.scenario import Scenario

Table = npt.NDArray[np.void]


class _Number(IntEnum):
    """Numbers of a trace by name."""

    @property
    def words(self) -> str:
        """The name as text has it."""
        return self.name.lower().replace("_", " ")


class Fate(_Number):
    """What became of an attempt at the receiver; what follows FULL is a cause of loss, in the
    order of rule C5."""

    NEW = 0
    DUPLICATE = 1
    FULL = 2
    OFF = 3
    OUT_OF_RANGE = 4
    DEAF = 5
    COLLISION = 6
    CHANCE = 7
    CUT = 8


class AcknowledgementFate(_Number):
    """What became of an acknowledgement: taken by a transmitter, or why not."""

    TAKEN = 0
    COLLISION = 1
    CHANCE = 2
    CUT = 3
    UNHEARD = 4
    OUT_OF_RANGE = 5


class Outcome(_Number):
    """What became of a frame at its transmitter.

    KEPT alone is not final: the frame waits for another slot.
    """

    ACKNOWLEDGED = 0
    SENT = 1
    RETRIES_USED_UP = 2
    KEPT = 3
    SKIPPED = 4
    REPLACED = 5
    QUEUE_FULL = 6
    POWER_CUT = 7
    UNDER_WAY = 8


class ReadOutcome(_Number):
    """What became of an accepted frame in the receiver's FIFO; the program saw the first two."""

    READ = 0
    THROWN_AWAY = 1
    LOST_WITH_THE_FIFO = 2
    WAITING = 3


# Plain numbers, for rules and for loops that are compiled.
NEW, DUPLICATE, FULL, OFF, OUT_OF_RANGE, DEAF, COLLISION, CHANCE, CUT = map(int, Fate)
TAKEN, ACK_COLLISION, ACK_CHANCE, ACK_CUT, UNHEARD, ACK_FAINT = map(int, AcknowledgementFate)
(
    ACKNOWLEDGED,
    SENT,
    RETRIES_USED_UP,
    KEPT,
    SKIPPED,
    REPLACED,
    QUEUE_FULL,
    POWER_CUT,
    UNDER_WAY,
) = map(int, Outcome)
READ, THROWN_AWAY, LOST, WAITING = map(int, ReadOutcome)


FIRST_NOISE = -2
"""Number of a stream's first frame out of noise; later ones count down (rule D6). −1 is none."""


@rule
def is_noise(frame: int) -> bool:
    """Whether no transmitter sampled a frame: it came out of noise."""
    return frame <= FIRST_NOISE


class AttemptRow(NamedTuple):
    """A frame once on the air."""

    stream: int
    frame: int
    attempt: int
    """From 1, over all slots of the frame."""
    slot: int
    """From 0: which transmit slot of the frame this attempt belongs to."""
    number: int
    """Packet number, 0…3."""
    start_ns: int
    end_ns: int
    fate: int


class AcknowledgementRow(NamedTuple):
    """An acknowledgement on the air."""

    stream: int
    """Whose frame earned it."""
    frame: int
    attempt: int
    start_ns: int
    end_ns: int
    fate: int
    takers: int
    """Bit i set: transmitter i took it as its own."""


class FrameRow(NamedTuple):
    """A frame at its transmitter's end."""

    stream: int
    frame: int
    attempts: int
    sampled_ns: int
    values_ns: int
    """When the values were taken: earlier than the sample if the transmitter is stale."""
    values_frame: int
    done_ns: int
    outcome: int


class ReadRow(NamedTuple):
    """An accepted frame at the receiver's end.

    One out of noise has the number that its step gave it, and was sampled as it was complete.
    """

    stream: int
    frame: int
    sampled_ns: int
    values_ns: int
    values_frame: int
    accepted_ns: int
    """When it stood in the FIFO, interrupt line active."""
    read_ns: int
    """When it was read or thrown away; the end of the run for one still waiting."""
    outcome: int


class PassRow(NamedTuple):
    """A pass of the receiver program that read frames."""

    start_ns: int
    next_ns: int
    """Start of the pass after it."""
    frames: int


class BrownoutRow(NamedTuple):
    """A dip of the receiver's supply that what outputs drew brought about (rule E4)."""

    at_ns: int
    """When the voltage fell under the level at which the program is held in reset."""
    until_ns: int
    """When it had risen enough for the program to boot; the end of the run if it never did."""
    outputs: int
    """Bit k set: output k of the scenario drew more than at rest."""
    drawn_ua: int
    """What all of it drew then, board included."""
    settles_uv: int
    """Where the voltage would have settled with that."""


ROWS: dict[str, type[NamedTuple]] = {
    "attempts": AttemptRow,
    "acknowledgements": AcknowledgementRow,
    "frames": FrameRow,
    "reads": ReadRow,
    "passes": PassRow,
}


def table_dtype(row: type) -> np.dtype[np.void]:
    """The numpy record of a row type: every column is a 64-bit integer."""
    return np.dtype([(name, "i8") for name in row.__annotations__])


DTYPES = {name: table_dtype(row) for name, row in ROWS.items()}
BROWNOUTS: np.dtype[np.void] = table_dtype(BrownoutRow)


def brownout_table(rows: Sequence[BrownoutRow] = ()) -> Table:
    """A read-only table of brown-outs."""
    table = np.array(list(rows), BROWNOUTS)
    table.flags.writeable = False
    return table


@dataclass(frozen=True, slots=True, kw_only=True)
class Trace:
    """One start of a scenario, row by row; tables are read-only numpy records (see ROWS)."""

    scenario: Scenario = field(repr=False)
    seed: int
    start: int
    duration_ns: int
    engine: str
    version: str
    attempts: Table = field(repr=False)
    acknowledgements: Table = field(repr=False)
    frames: Table = field(repr=False)
    reads: Table = field(repr=False)
    passes: Table = field(repr=False)
    brownouts: Table = field(repr=False, default_factory=brownout_table)
    """Those that outputs brought about, in order (see BrownoutRow)."""

    def __repr__(self) -> str:
        counts = ", ".join(f"{len(getattr(self, name))} {name}" for name in ROWS)
        seconds = self.duration_ns / 1e9
        return (
            f"Trace({self.scenario.name!r}, seed={self.seed}, start={self.start}, "
            f"{seconds:g} s, {counts})"
        )


def value_reads(trace: Trace, stream: int) -> Table:
    """Rows of the frames of one transmitter that the program read, without those out of noise."""
    rows = trace.reads
    is_value = (rows["outcome"] == READ) & (rows["stream"] == stream)
    found: Table = rows[is_value & (rows["frame"] > FIRST_NOISE)]
    return found


def table_of(name: str, rows: list[tuple[int, ...]]) -> Table:
    """A read-only table from rows in the order in which they were written."""
    table = np.array(rows, DTYPES[name])
    table.flags.writeable = False
    return table
