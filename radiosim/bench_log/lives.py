"""One unit's records in order of time: counters that wrap, resets, and what cannot be right."""

from collections.abc import Sequence
from typing import Any

import numpy as np

from radiosim.bench_log.records import (
    OF_RECEIVER,
    OF_TRANSMITTER,
    RECEIVER,
    Event,
    LogError,
    Records,
    UnitLog,
    of_event,
)
from radiosim.counted import counted

WRAP_US = 2**32
FRESH_US = 10_000_000
"""A clock that goes back to less than this has begun again; our own choice."""

SILENT_US = 600_000_000
"""No unit is silent for longer while its counter wraps; our own choice."""

STALE_FRAMES = 16
"""A counter goes back by no more where old frames are read; our own choice, five times a FIFO."""


def unit_log(records: Records, unit: str, source: str, notes: Sequence[str] = ()) -> UnitLog:
    """A unit's log of records as they came, times not yet unwrapped.

    LogError if time goes back, or if another unit's records are among them.
    """
    _check_unit(records, unit, source)
    kept, dropped = _without_strays(records)
    said = list(notes)
    if dropped:
        said.append(f"{counted(dropped, 'record')} with a time out of all order left out")
    cuts, unlogged = _cuts(kept, source, unit)
    lives = tuple(_unwrapped(life) for life in np.split(kept, cuts) if len(life))
    if unit == RECEIVER:
        whole = len(lives)
        lives = tuple(part for life in lives for part in np.split(life, _restarts(life)))
        if len(lives) > whole:
            said.append(
                f"a transmitter's counter begins again {counted(len(lives) - whole, 'time')}, as "
                "after a reset; what lies between is judged apart"
            )
    if unlogged:
        said.append(
            f"the clock begins again {counted(unlogged, 'time')} without a boot record: a reset "
            "that was not logged, or several runs in one file; each is judged on its own"
        )
    return UnitLog(
        source=source,
        unit=unit,
        lives=lives,
        stamps=_stamps(kept),
        lost=int(of_event(kept, Event.LOST)["value"].astype(np.int64).sum()),
        notes=tuple(said),
    )


def unit_of(records: Records, transmitters: Sequence[str], source: str) -> str:
    """The unit that writes such records; LogError if none alone does."""
    events = set(np.unique(records["event"]).tolist())
    if events & OF_RECEIVER:
        return RECEIVER
    mine = records[np.isin(records["event"], [int(event) for event in OF_TRANSMITTER])]
    numbers = np.unique(mine["stream"]).tolist()
    if len(numbers) == 1 and numbers[0] < len(transmitters):
        return str(transmitters[numbers[0]])
    raise LogError(f"{source}: does not tell which unit wrote it: name it, as {RECEIVER}={source}")


def check_numbers(records: Records, streams: int, outputs: int, source: str) -> None:
    """LogError for the first record of a stream or an output that there is none of."""
    for events, count, what in (
        ((Event.SAMPLE, Event.DONE, Event.READ, Event.FAILSAFE), streams, "stream"),
        ((Event.OUTPUT,), outputs, "output"),
    ):
        wrong = np.isin(records["event"], [int(e) for e in events]) & (records["stream"] >= count)
        if wrong.any():
            place = int(np.argmax(wrong))
            raise LogError(
                f"{source}: record {place + 1}: {what} must be below {count}, the scenario's "
                f"number of them, got {records['stream'][place]}"
            )


def _check_unit(records: Records, unit: str, source: str) -> None:
    alien = OF_TRANSMITTER if unit == RECEIVER else OF_RECEIVER
    wrong = np.isin(records["event"], [int(event) for event in alien])
    if wrong.any():
        place = int(np.argmax(wrong))
        event = Event(int(records["event"][place])).word
        raise LogError(
            f"{source}: record {place + 1}: must be of {unit}, got {event}, which "
            f"{'a transmitter' if unit == RECEIVER else 'the receiver'} writes: logs are swapped "
            "or mixed up"
        )


def _steps(records: Records) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
    """Time from each record to the next, us, the shorter way round a 32-bit counter."""
    plain = np.diff(records["t_us"])
    if len(records) and records["t_us"].max() >= WRAP_US:
        return plain
    # A fall is a wrap only if it makes a short step: else the clock has begun again.
    ahead = plain + WRAP_US
    step = np.where((plain < 0) & (ahead <= SILENT_US), ahead, plain)
    return np.where(plain > WRAP_US // 2, plain - WRAP_US, step)


def _without_strays(records: Records) -> tuple[Records, int]:
    """Without single records whose time lies outside that of both neighbours, which agree."""
    if len(records) < 3:
        return records, 0
    step = _steps(records)
    across = step[:-1] + step[1:]
    calm = (across >= 0) & (across < FRESH_US)
    stray = calm & ((step[:-1] < 0) | (step[1:] < 0))
    stray &= records["event"][1:-1] != Event.BOOT
    keep = np.concatenate([[True], ~stray, [True]])
    found: Records = records[keep]
    return found, int(stray.sum())


def _cuts(records: Records, source: str, unit: str) -> tuple[list[int], int]:
    """Where lives begin, and how many of them without a boot record."""
    boots = set(np.flatnonzero(records["event"] == Event.BOOT).tolist())
    back = np.flatnonzero(_steps(records) < 0) + 1
    unlogged = [place for place in back.tolist() if place not in boots]
    for place in unlogged:
        if records["t_us"][place] >= FRESH_US:
            before, after = records["t_us"][place - 1], records["t_us"][place]
            raise LogError(
                f"{source}: record {place + 1} of {unit}: time must not go back, got {after} us "
                f"after {before} us: records are out of order, or two runs or clocks are mixed up"
            )
    return sorted(boots.union(unlogged)), len(unlogged)


def _unwrapped(life: Records) -> Records:
    found = life.copy()
    found["t_us"][1:] = life["t_us"][0] + np.cumsum(_steps(life))
    return found


def _stamps(records: Records) -> tuple[int, ...]:
    """Every stamp that a boot record and the one behind it make."""
    boots = np.flatnonzero(records["event"][:-1] == Event.BOOT)
    whole = boots[records["event"][boots + 1] == Event.STAMP]
    high, low = records["value"][whole].astype(int), records["value"][whole + 1].astype(int)
    return tuple(dict.fromkeys((high << 16 | low).tolist()))


def counts_of(records: Records) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
    """The counters of records of one stream, over their wraps, from the first one's on.

    A counter of one byte is known by never passing 255 although it falls. Where more than a whole
    turn was lost, the time since the record before tells how many.
    """
    value = records["value"].astype(np.int64)
    if len(value) < 2:
        return value
    step, expected, turn = _count_steps(records)
    turns = np.round((expected - step) / turn)
    step += turn * np.where(turns > 0, turns, 0).astype(np.int64)
    counts: np.ndarray[tuple[int], np.dtype[np.int64]]
    counts = value[0] + np.concatenate([np.zeros(1, np.int64), np.cumsum(step)])
    return counts


def _count_steps(
    records: Records,
) -> tuple[np.ndarray[tuple[int], Any], np.ndarray[tuple[int], Any], int]:
    """From each counter of a stream to the next, how far time lets expect, and a whole turn."""
    value = records["value"].astype(np.int64)
    plain = np.diff(value)
    turn = 256 if value.max() < 256 and (plain < 0).any() else 65_536
    # A retry that comes through twice, or a stale frame, goes back a little.
    step = (plain + turn // 4) % turn - turn // 4
    span_us = np.diff(records["t_us"])
    ones = span_us[step == 1]
    if not len(ones):
        return step, step.astype(float), turn
    return step, span_us / max(1.0, float(np.median(ones))), turn


def _restarts(life: Records) -> list[int]:
    """Where a stream's counter begins again: it goes back, or on, by more than time allows."""
    found: list[int] = []
    for stream in np.unique(life["stream"][life["event"] == Event.READ]).tolist():
        places = np.flatnonzero((life["event"] == Event.READ) & (life["stream"] == stream))
        if len(places) < 3:
            continue
        step, expected, _ = _count_steps(life[places])
        odd = (step < -STALE_FRAMES) | (step > 1.25 * expected + STALE_FRAMES)
        # One that goes away and comes back is one strange record.
        near = np.concatenate([[False], odd, [False]])
        found += places[1:][odd & ~near[:-2] & ~near[2:]].tolist()
    return sorted(found)
