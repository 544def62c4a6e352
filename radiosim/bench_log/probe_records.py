"""Records as a probe sends them: eight bytes each, found again after bytes were lost.

Byte 0 is event × 16 + stream, bytes 1 and 2 are the value and bytes 3 to 6 the microseconds, lowest
byte first; byte 7 is a check. To check, begin with 0, and for each byte turn what there is one bit
to the left and add the byte without carry (exclusive or): the end must be 0x5A. None of its turns
is itself, so that a place between two records that are alike is never taken for one.
"""

from typing import Final

import numpy as np
import numpy.typing as npt

from radiosim.bench_log.records import RECORD, Event, LogError, Records
from radiosim.counted import counted

SIZE: Final = 8
CHECK: Final = 0x5A
MOST_STREAMS: Final = 16
_SURE = 3
"""Records in a row that must be whole before a place is taken for the beginning of one: bytes at
random are a record with a chance of 11/16/256."""
_LEAST_SHARE = 0.5
"""Of all bytes that must be in whole records; our own choice."""

Bytes = npt.NDArray[np.uint8]


def encoded(records: Records) -> bytes:
    """The records as a probe sends them; times modulo 2^32."""
    out = np.zeros((len(records), SIZE), np.uint8)
    out[:, 0] = records["event"] << 4 | records["stream"]
    value, t_us = records["value"].astype("<u2"), (records["t_us"] & 0xFFFFFFFF).astype("<u4")
    out[:, 1:3] = value.view(np.uint8).reshape(-1, 2)
    out[:, 3:7] = t_us.view(np.uint8).reshape(-1, 4)
    # The last byte comes in unturned: what is missing to the check.
    out[:, 7] = _checks(out.ravel())[::SIZE] ^ CHECK
    return out.tobytes()


def decoded(content: bytes, source: str) -> tuple[Records, int]:
    """Whole records in their order, and how many bytes belong to none.

    Times are as they were sent, not yet unwrapped. LogError if most bytes belong to none.
    """
    raw = np.frombuffer(content, np.uint8)
    starts = _starts(raw)
    if len(starts) * SIZE < _LEAST_SHARE * len(raw) or not len(starts):
        raise LogError(
            f"{source}: must be probe records of {SIZE} bytes or CSV, got "
            f"{counted(len(raw), 'byte')} of which {counted(len(starts), 'record')} could be made"
        )
    rows = raw[starts[:, None] + np.arange(SIZE)]
    found = np.zeros(len(rows), RECORD)
    found["event"], found["stream"] = rows[:, 0] >> 4, rows[:, 0] & 15
    found["value"] = rows[:, 1:3].copy().view("<u2")[:, 0]
    found["t_us"] = rows[:, 3:7].copy().view("<u4")[:, 0]
    return found, len(raw) - SIZE * len(found)


def _starts(raw: Bytes) -> npt.NDArray[np.int64]:
    """Where whole records begin."""
    if len(raw) < SIZE:
        return np.zeros(0, np.int64)
    kind = raw[: len(raw) - SIZE + 1] >> 4
    is_whole = _checks(raw) == CHECK
    is_whole &= (kind >= min(Event)) & (kind <= max(Event))
    bad = [np.flatnonzero(~is_whole[lane::SIZE]) for lane in range(SIZE)]
    sure = np.flatnonzero(_is_sure(is_whole))
    parts, at = [], 0
    while at < len(is_whole):
        lane, first = at % SIZE, at // SIZE
        place = np.searchsorted(bad[lane], first)
        end = bad[lane][place] if place < len(bad[lane]) else len(is_whole[lane::SIZE])
        parts.append(np.arange(first, end) * SIZE + lane)
        at = int(end) * SIZE + lane
        beyond = np.searchsorted(sure, at)
        if beyond == len(sure):
            break
        at = int(sure[beyond])
    return np.concatenate(parts)


def _checks(raw: Bytes) -> Bytes:
    """The check over eight bytes from each place on."""
    places = max(0, len(raw) - SIZE + 1)
    found: Bytes = np.zeros(places, np.uint8)
    for step in range(SIZE):
        turned = (found << 1 | found >> 7).astype(np.uint8)
        found = turned ^ raw[step : step + places]
    return found


def _is_sure(is_whole: npt.NDArray[np.bool_]) -> npt.NDArray[np.bool_]:
    """Where several whole records follow each other, or a whole one ends the log."""
    found = is_whole.copy()
    for step in range(1, _SURE):
        found[: -SIZE * step] &= is_whole[SIZE * step :]
    return found
