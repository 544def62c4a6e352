"""Value change dumps of a logic analyser as logs: what its wires do stands for events.

The format is that of IEEE Std 1364-2005, clause 18: declarations between keywords that begin with
`$`, then instants as `#` and a number, and changes of value.
"""

from array import array
from collections.abc import Iterable, Iterator, Mapping, Sequence

import numpy as np
from msgspec import Struct

from radiosim.bench_log.csv_records import Names
from radiosim.bench_log.record_rows import Instants, pass_rows, rows_of
from radiosim.bench_log.records import RECEIVER, Event, LogError, Records

WIRE_EVENTS = ("boot", "pass", "read", "sample", "failsafe", "output")
_OF_STREAM = {"read": Event.READ, "sample": Event.SAMPLE, "failsafe": Event.FAILSAFE}
_SCALES_PS = {"s": 10**12, "ms": 10**9, "us": 10**6, "ns": 10**3, "ps": 1}
_TIMES = (1, 10, 100)
_PS_PER_US = 10**6
_LONGEST = 20
"""Letters of an instant."""
_MOST_STEPS = 2**53
"""Of an instant: more are no longer told apart once they are us."""


class Wire(Struct, frozen=True, kw_only=True):
    """What a wire stands for."""

    event: str
    number: int
    """Of the stream or output; 0 where there is none."""
    unit: str


def wires_of(said: str, names: Names) -> dict[str, Wire]:
    """Of `WIRE=EVENT,...` the wires by name; LogError for what is none.

    Events: boot (it rises), pass (it is turned over once a pass), read:STREAM and sample:STREAM (it
    rises each time), failsafe:STREAM (high while it is on), output:OUTPUT (its pulses).
    """
    found: dict[str, Wire] = {}
    for part in said.split(","):
        wire, equals, event = (piece.strip() for piece in part.partition("="))
        if not equals or not wire:
            raise LogError(f"--map: must be WIRE=EVENT,..., got {part[:60]!r}")
        if wire in found:
            raise LogError(f"--map: {wire} must stand for one event, got two")
        found[wire] = _wire(event, names)
    return found


def _wire(said: str, names: Names) -> Wire:
    event, _, whose = said.partition(":")
    if event not in WIRE_EVENTS:
        raise LogError(f"--map: event must be one of {', '.join(WIRE_EVENTS)}, got {event[:60]!r}")
    if event in ("boot", "pass"):
        return Wire(event=event, number=0, unit=RECEIVER)
    known = names.outputs if event == "output" else names.transmitters
    if whose not in known:
        what = "output" if event == "output" else "transmitter"
        raise LogError(
            f"--map: {event} must be of a {what} ({', '.join(known) or 'there is none'}), as "
            f"{event}:NAME, got {said[:60]!r}"
        )
    return Wire(
        event=event, number=known.index(whose), unit=whose if event == "sample" else RECEIVER
    )


class _Levels:
    """When one wire changed, in steps of the dump."""

    def __init__(self) -> None:
        self.at = array("q")
        self.level = array("b")

    def take(self, at: int, level: str) -> None:
        """A change to 0 or 1; to what is neither, the next is the first again."""
        known = {"0": 0, "1": 1}.get(level, -1)
        if not self.level or self.level[-1] != known:
            self.at.append(at)
            self.level.append(known)

    def edges(self, us_each: float) -> tuple[Instants, Instants]:
        """Instants in us of changes between 0 and 1, and to what; the first level is none."""
        at, level = np.array(self.at, np.int64), np.array(self.level, np.int64)
        is_edge = np.zeros(len(level), bool)
        is_edge[1:] = (level[1:] >= 0) & (level[:-1] >= 0)
        return np.floor(at[is_edge] * us_each).astype(np.int64), level[is_edge]


def read_waveform(
    lines: Iterable[str], source: str, wires: Mapping[str, Wire]
) -> dict[str, Records]:
    """By unit the records of a dump, by the analyser's clock; LogError with the line."""
    words = _Words(lines, source)
    ids, step_ps = _declared(words, wires)
    levels = {wire: _Levels() for wire in wires}
    _changes(words, {code: levels[wire] for code, wire in ids.items()})
    us_each = step_ps / _PS_PER_US
    edges = {wire: found.edges(us_each) for wire, found in levels.items()}
    silent = [wire for wire, (at, _) in edges.items() if not len(at)]
    if len(silent) == len(wires):
        raise LogError(f"{source}: {', '.join(silent)} must change, got no edge")
    return _records(edges, wires)


class _Words:
    """The words of a dump one by one, with the line of the last."""

    def __init__(self, lines: Iterable[str], source: str) -> None:
        self.line = 0
        self.source = source
        self._words = self._of(lines)

    def _of(self, lines: Iterable[str]) -> Iterator[str]:
        for self.line, text in enumerate(lines, 1):
            yield from text.split()

    def __iter__(self) -> Iterator[str]:
        return self._words

    def refused(self, what: str, got: str) -> LogError:
        """An error at the last word."""
        return LogError(f"{self.source}:{self.line}: {what}, got {got[:60]!r}")

    def until_end(self) -> list[str]:
        """Words up to `$end`."""
        found: list[str] = []
        for word in self._words:
            if word == "$end":
                return found
            found.append(word)
        raise self.refused("a keyword must be closed by $end", "the end of the file")


class _Declared:
    """What the head of a dump declares."""

    def __init__(self, wires: Mapping[str, Wire]) -> None:
        self.step_ps = 0
        self._codes: dict[str, list[str]] = {wire: [] for wire in wires}
        self._scope: list[str] = []
        self._seen: list[str] = []

    def take(self, words: _Words, keyword: str, rest: list[str]) -> None:
        """One declaration."""
        if keyword == "$timescale":
            self.step_ps = _step_ps(words, "".join(rest))
        elif keyword == "$scope":
            self._scope.append(rest[-1] if rest else "")
        elif keyword == "$upscope" and self._scope:
            self._scope.pop()
        elif keyword == "$var":
            self._take_wire(words, rest)

    def _take_wire(self, words: _Words, rest: list[str]) -> None:
        if len(rest) < 4:
            what = "$var must have a type, a size, a code and a name"
            raise words.refused(what, " ".join(rest))
        _, size, code, name = rest[:4]
        self._seen.append(name)
        for wire in {name, ".".join((*self._scope, name))} & set(self._codes):
            if size != "1":
                raise words.refused(f"{wire} must be one wire", f"{size} of them")
            self._codes[wire].append(code)

    def ids(self, words: _Words) -> dict[str, str]:
        """Each code with its wire; LogError for a wire that the dump has not, or more than once."""
        if not self.step_ps:
            raise words.refused("a value change dump must have a $timescale", "none")
        for wire, found in self._codes.items():
            if len(set(found)) != 1:
                what = "several wires" if found else "no wire"
                raise LogError(
                    f"{words.source}: --map: {wire} must be a wire of the dump "
                    f"({_some(self._seen)}), got {what} of that name"
                )
        return {found[0]: wire for wire, found in self._codes.items()}


def _declared(words: _Words, wires: Mapping[str, Wire]) -> tuple[dict[str, str], int]:
    """The code of each wire, and the step of time in ps."""
    found = _Declared(wires)
    for word in words:
        if not word.startswith("$"):
            raise words.refused("a value change dump must begin with declarations", word)
        rest = words.until_end()
        if word == "$enddefinitions":
            return found.ids(words), found.step_ps
        found.take(words, word, rest)
    raise words.refused("a value change dump must have $enddefinitions", "the end of the file")


def _some(names: Sequence[str]) -> str:
    return f"{', '.join(names[:20])}{', ...' if len(names) > 20 else ''}" or "it has none"


def _step_ps(words: _Words, text: str) -> int:
    number = text.rstrip("smunpf")
    unit = text[len(number) :]
    if number.isdecimal() and int(number) in _TIMES and unit in _SCALES_PS:
        return int(number) * _SCALES_PS[unit]
    raise words.refused("$timescale must be 1, 10 or 100 of s, ms, us, ns or ps", text)


def _changes(words: _Words, levels: Mapping[str, _Levels]) -> None:
    """Every change of the wires; LogError where time goes back."""
    now, stream = 0, iter(words)
    for word in stream:
        kind = word[0]
        if kind in "01xXzZ":
            if (wire := levels.get(word[1:])) is not None:
                wire.take(now, kind)
        elif kind == "#":
            if not word[1:].isdecimal() or len(word) > _LONGEST:
                raise words.refused("an instant must be # and a whole number", word)
            then, now = now, int(word[1:])
            if now > _MOST_STEPS:
                raise words.refused(f"an instant must be at most #{_MOST_STEPS}", word)
            if now < then:
                raise words.refused(f"time must not go back from #{then}", word)
        elif kind in "bBrR":
            if next(stream, None) is None:
                raise words.refused("a value must have a code", word)
        elif word == "$comment":
            words.until_end()
        elif kind != "$":
            raise words.refused("must be an instant or a change of value", word)


def _records(
    edges: Mapping[str, tuple[Instants, Instants]], wires: Mapping[str, Wire]
) -> dict[str, Records]:
    boots = [
        edges[wire][0][edges[wire][1] == 1] for wire, of in wires.items() if of.event == "boot"
    ]
    booted = np.sort(np.concatenate([np.zeros(0, np.int64), *boots]))
    parts: dict[str, list[Records]] = {}
    for wire, of in wires.items():
        at_us, level = edges[wire]
        parts.setdefault(of.unit, []).extend(_of_wire(of, at_us, level, booted))
    found = {}
    for unit, rows in parts.items():
        every = np.concatenate(rows)
        # A boot comes first of what is seen at its instant.
        order = np.lexsort((every["event"], every["t_us"]))
        if len(every):
            found[unit] = every[order]
    return found


def _of_wire(of: Wire, at_us: Instants, level: Instants, booted: Instants) -> Iterator[Records]:
    rises = at_us[level == 1]
    if of.event == "boot":
        yield rows_of(rises, Event.BOOT, 0, np.zeros(len(rises), np.int64))
    elif of.event == "pass":
        yield from pass_rows(at_us, booted.tolist(), 1.0)
    elif of.event == "output":
        ends = at_us[level == 0]
        firsts = np.searchsorted(ends, rises)
        has_end = firsts < len(ends)
        widths_us = ends[firsts[has_end]] - rises[has_end]
        yield rows_of(rises[has_end], Event.OUTPUT, of.number, np.minimum(widths_us, 0xFFFF))
    elif of.event == "failsafe":
        yield rows_of(at_us, Event.FAILSAFE, of.number, level)
    else:
        yield rows_of(rises, _OF_STREAM[of.event], of.number, _counted(of.event, rises))


def _counted(event: str, rises: Instants) -> Instants:
    """Counters, which a wire does not show: each sample is one more; of frames read as many are
    missing as the usual time from one to the next goes into a longer one."""
    if event == "sample" or len(rises) < 2:
        return np.arange(len(rises), dtype=np.int64)
    steps_us = np.diff(rises)
    steps = np.maximum(1, np.rint(steps_us / max(1.0, float(np.median(steps_us)))))
    counts: Instants = np.concatenate([[0], np.cumsum(steps)]).astype(np.int64)
    return counts
