"""Where every sampled frame ended (rule H): in exactly one place."""

from dataclasses import dataclass

import numpy as np

from radiosim.trace import (
    KEPT,
    QUEUE_FULL,
    READ,
    REPLACED,
    SKIPPED,
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
    for row_outcomes, where in (
        (lambda column: (column != READ) & (column != WAITING), GONE_WITH_FIFO),
        (lambda column: column == WAITING, IN_FIFO),
        (lambda column: column == READ, IN_PROGRAM),
    ):
        mine = trace.reads[(trace.reads["stream"] == stream) & row_outcomes(trace.reads["outcome"])]
        place[mine["frame"]] = where
    return place


def account(trace: Trace, stream: int) -> Account:
    """The account of one stream."""
    counts = np.bincount(places(trace, stream), minlength=len(PLACES))
    return Account(counts=tuple(counts.tolist()))


def _final_rows(frames: Table, stream: int) -> Table:
    """The last word on each frame of a stream, in order of frame number."""
    mine = frames[(frames["stream"] == stream) & (frames["outcome"] != KEPT)]
    return mine[np.argsort(mine["frame"], kind="stable")]
