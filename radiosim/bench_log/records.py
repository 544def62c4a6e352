"""What a log holds: records of events on one unit's clock, in lives from boot to boot."""

from enum import IntEnum
from typing import Final

import numpy as np
import numpy.typing as npt
from msgspec import Struct

from radiosim.errors import RadiosimError, one_line

Records = npt.NDArray[np.void]
"""Rows of RECORD."""
RECORD: Final = np.dtype([("t_us", "i8"), ("event", "u1"), ("stream", "u1"), ("value", "u2")])
"""`t_us` counts on from the first record of a life, over every wrap of a 32-bit counter."""
RECEIVER: Final = "receiver"


class LogError(RadiosimError):
    """A log that cannot be used; its text says where."""

    def __str__(self) -> str:
        return one_line(super().__str__())


class Event(IntEnum):
    """What a record tells; the name in small letters is its word in text."""

    BOOT = 1
    """The program starts; the value is the upper half of its stamp."""
    STAMP = 2
    """Follows BOOT; the value is the lower half of the stamp."""
    SAMPLE = 3
    """A transmitter has read its controls; the value counts them."""
    DONE = 4
    """A frame is done with: 32768 if it was acknowledged, plus the number of its retries."""
    READ = 5
    """The receiver's program has read a frame; the value is the frame's counter."""
    PASS = 6
    """So many passes since the record before of this kind; 0: the first one since the boot."""
    LONGEST = 7
    """The longest of those passes, us; 65535: that or longer."""
    OUTPUT = 8
    """An output is written; the value is its pulse, us."""
    FAILSAFE = 9
    """A stream's failsafe is on (1) or over (0)."""
    MARK = 10
    """Whatever the builder says."""
    LOST = 11
    """So many records did not fit before this one."""

    @property
    def word(self) -> str:
        """The event as text has it."""
        return self.name.lower()


ACKNOWLEDGED: Final = 0x8000
"""Bit of a DONE record's value."""
OF_TRANSMITTER: Final = frozenset({Event.SAMPLE, Event.DONE})
OF_RECEIVER: Final = frozenset({Event.READ, Event.OUTPUT, Event.FAILSAFE})
OF_STREAM: Final = frozenset({Event.SAMPLE, Event.DONE, Event.READ, Event.FAILSAFE})
"""Events whose `stream` is a transmitter's number; that of OUTPUT is an output's."""


class UnitLog(Struct, frozen=True, kw_only=True, eq=False):
    """What one unit has logged."""

    source: str
    """The file's name."""
    unit: str
    """A transmitter's name, or `receiver`."""
    lives: tuple[Records, ...]
    """Records from boot to boot, each in order; none is empty."""
    stamps: tuple[int, ...] = ()
    """Stamps of the programs that wrote it, each once."""
    is_real_time: bool = False
    """Whether times are a logic analyser's, not the unit's own."""
    lost: int = 0
    """Records that the unit itself says it lost."""
    notes: tuple[str, ...] = ()
    """What was mended, a sentence each."""

    @property
    def longest(self) -> Records:
        """The life that lasted longest."""
        return max(self.lives, key=lambda life: int(life["t_us"][-1] - life["t_us"][0]))


def of_event(records: Records, event: Event, stream: int | None = None) -> Records:
    """The records of an event, of one stream if one is given."""
    is_it = records["event"] == event
    if stream is not None:
        is_it &= records["stream"] == stream
    found: Records = records[is_it]
    return found
