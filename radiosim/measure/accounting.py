"""Where every sampled frame ended (rule H): in exactly one place."""

from dataclasses import dataclass

import numpy as np

from radiosim.trace import (
    KEPT,
    LOST,
    QUEUE_FULL,
    READ,
    REPLACED,
    SKIPPED,
    THROWN_AWAY,
    UNDER_WAY,
    WAITING,
    Table,
    Trace,
)

PLACES = (
    "read",
    "waiting",
    "thrown away",
    "never accepted",
    "skipped",
    "replaced",
    "queue full",
    "power cut",
    "under way",
)
(
    IN_PROGRAM,
    IN_FIFO,
    GONE_WITH_FIFO,
    NEVER_ACCEPTED,
    BUSY,
    OVERTAKEN,
    NO_ROOM,
    CUT_BEFORE_SENDING,
    ON_ITS_WAY,
) = range(len(PLACES))

_BEFORE_SENDING = {SKIPPED: BUSY, REPLACED: OVERTAKEN, QUEUE_FULL: NO_ROOM}
# The better place last: it is the one that counts.
_AT_RECEIVER = {
    LOST: GONE_WITH_FIFO,
    THROWN_AWAY: GONE_WITH_FIFO,
    WAITING: IN_FIFO,
    READ: IN_PROGRAM,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Account:
    """How many frames of one stream ended in each of PLACES."""

    counts: tuple[int, ...]

    @property
    def sampled(self) -> int:
        """All frames."""
        return sum(self.counts)


def places(trace: Trace, stream: int) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
    """The place (index into PLACES) of each frame of a stream, by frame number.

    A frame that the receiver accepted twice (rule D3) counts once, at the better place.
    """
    finals = _final_rows(trace.frames, stream)
    outcome, attempts = finals["outcome"], finals["attempts"]
    place = np.full(len(finals), NEVER_ACCEPTED, np.int64)
    place[attempts == 0] = CUT_BEFORE_SENDING
    for name, where in _BEFORE_SENDING.items():
        place[outcome == name] = where
    place[outcome == UNDER_WAY] = ON_ITS_WAY
    mine = trace.reads[trace.reads["stream"] == stream]
    for name, where in _AT_RECEIVER.items():
        place[mine["frame"][mine["outcome"] == name]] = where
    return place


def account(trace: Trace, stream: int) -> Account:
    """The account of one stream."""
    counts = np.bincount(places(trace, stream), minlength=len(PLACES))
    return Account(counts=tuple(counts.tolist()))


def _final_rows(frames: Table, stream: int) -> Table:
    """The last word on each frame of a stream, in order of frame number."""
    mine = frames[(frames["stream"] == stream) & (frames["outcome"] != KEPT)]
    ordered: Table = mine[np.argsort(mine["frame"], kind="stable")]
    return ordered
