"""Logs as text: lines of `t_us,unit,event,stream,value`, of one unit or of several."""

from collections.abc import Iterable, Iterator, Sequence
from itertools import islice
from typing import Any

import numpy as np
from msgspec import Struct

from radiosim.bench_log.records import (
    OF_STREAM,
    RECEIVER,
    RECORD,
    Event,
    LogError,
    Records,
)

HEADER = "t_us,unit,event,stream,value"
EVENTS = {event.word: event for event in Event}
_LINES = 20_000
"""Lines read at a time: what is held of the text does not grow with the file."""
_MOST_US = 2**53


class Names(Struct, frozen=True, kw_only=True):
    """What a scenario calls its units and outputs, in the order of their numbers."""

    transmitters: tuple[str, ...]
    outputs: tuple[str, ...]

    @property
    def units(self) -> tuple[str, ...]:
        """Everything that can write a log."""
        return (*self.transmitters, RECEIVER)


def read_csv(lines: Iterable[str], source: str, names: Names) -> dict[str, Records]:
    """By unit the records of a text, times as they stand there; LogError with the line.

    Empty lines, lines that begin with `#` and the line of titles are left out.
    """
    rows: dict[int, list[Records]] = {}
    number, stream = 1, iter(lines)
    while chunk := list(islice(stream, _LINES)):
        units, found = _Chunk(source, names, number, chunk).records()
        for unit in np.unique(units).tolist():
            rows.setdefault(unit, []).append(found[units == unit])
        number += len(chunk)
    if not rows:
        raise LogError(f"{source}: must have lines of {HEADER}, got none")
    return {names.units[unit]: np.concatenate(parts) for unit, parts in sorted(rows.items())}


class _Chunk:
    """Some lines of a text."""

    def __init__(self, source: str, names: Names, first: int, lines: Sequence[str]) -> None:
        self._source, self._names, self._first, self._lines = source, names, first, lines
        self._units = {name: place for place, name in enumerate(names.units)}
        transmitters = {name: place for place, name in enumerate(names.transmitters)}
        outputs = {name: place for place, name in enumerate(names.outputs)}
        self._streams = {
            event.word: transmitters if event in OF_STREAM else outputs
            for event in (*OF_STREAM, Event.OUTPUT)
        }
        self._pairs = {
            (word, name): (int(event), place)
            for word, event in EVENTS.items()
            for name, place in self._streams.get(word, {"": 0}).items()
        }

    def records(self) -> tuple[np.ndarray[tuple[int], np.dtype[np.int64]], Records]:
        """Number of the unit and record of each line."""
        texts = [line.strip() for line in self._lines]
        numbers = [
            number
            for number, text in enumerate(texts, start=self._first)
            if text and text[0] != "#" and text.replace(" ", "") != HEADER
        ]
        if len(numbers) < len(texts):
            texts = [texts[number - self._first] for number in numbers]
        table = self._at_once(texts)
        if table is None:
            careful = [self._careful(*line) for line in zip(numbers, texts, strict=True)]
            table = np.array(careful, np.int64).reshape(-1, 5)
        wrong = (table[:, 0] < 0) | (table[:, 0] > _MOST_US)
        wrong |= (table[:, 4] < 0) | (table[:, 4] > 0xFFFF)
        if wrong.any():
            place = int(np.argmax(wrong))
            self._careful(numbers[place], texts[place])
        found = np.zeros(len(table), RECORD)
        for column, name in ((0, "t_us"), (2, "event"), (3, "stream"), (4, "value")):
            found[name] = table[:, column]
        return table[:, 1], found

    def _at_once(self, texts: Sequence[str]) -> np.ndarray[tuple[int, int], Any] | None:
        """The numbers of all lines if each is plain to read, else None: Python's own loops are
        several times as fast as one over lines."""
        if not all(text.count(",") == 4 for text in texts):
            return None
        cells = ",".join(texts).split(",") if texts else []
        table = np.zeros((len(texts), 5), np.int64)
        try:
            table[:, 0] = list(map(int, cells[0::5]))
            table[:, 1] = list(map(self._units.__getitem__, cells[1::5]))
            pairs = zip(cells[2::5], cells[3::5], strict=True)
            table[:, 2:4] = list(map(self._pairs.__getitem__, pairs))
            table[:, 4] = list(map(int, cells[4::5]))
        except (ValueError, KeyError, OverflowError):
            return None
        return table

    def _careful(self, number: int, text: str) -> tuple[int, int, int, int, int]:
        """The numbers of a line, with blanks around its cells; LogError if it has others."""

        def refused(what: str, cell: str) -> LogError:
            return LogError(f"{self._source}:{number}: {what}, got {cell[:60]!r}")

        cells = text.split(",")
        if len(cells) != 5:
            raise refused(f"must have 5 cells, {HEADER}", text)
        t_us, unit, event, stream, value = (cell.strip() for cell in cells)
        if unit not in self._units:
            raise refused(f"unit must be one of {_listed(self._units)}", unit)
        if event not in EVENTS:
            raise refused(f"event must be one of {_listed(EVENTS)}", event)
        streams = self._streams.get(event)
        if streams is not None and stream not in streams:
            what = "output" if event == Event.OUTPUT.word else "transmitter"
            raise refused(
                f"stream of {event} must be {what} {_listed(streams) or '(none)'}", stream
            )
        if not _is_whole(t_us) or int(t_us) > _MOST_US:
            raise refused("t_us must be a whole number of microseconds from 0 on", t_us)
        if not _is_whole(value) or int(value) > 0xFFFF:
            raise refused("value must be a whole number from 0 to 65535", value)
        place = 0 if streams is None else streams[stream]
        return int(t_us), self._units[unit], EVENTS[event], place, int(value)


def _is_whole(text: str) -> bool:
    return text.isascii() and text.isdecimal() and len(text) < 20


def _listed(names: Iterable[str]) -> str:
    return ", ".join(names)


def csv_lines(records: Records, unit: str, names: Names) -> Iterator[str]:
    """The records as text, one line each, without the line of titles."""
    for t_us, number, stream, value in records.tolist():
        event = Event(number)
        whose = names.outputs if event is Event.OUTPUT else names.transmitters
        named = whose[stream] if event in OF_STREAM or event is Event.OUTPUT else ""
        yield f"{t_us},{unit},{event.word},{named},{value}"
