"""Key paths: as tuples, as written in the file, and the line on which each key stands.

The standard parser keeps no lines. This scanner walks a text that the parser has already taken,
once from front to back, so it may trust the syntax and only needs to find where things begin.
"""

import difflib
import json
import re
import tomllib
from collections.abc import Collection, Iterable, Iterator, Mapping

import msgspec

Path = tuple[str | int, ...]

_MOST_LISTED = 8
_LONGEST_KEY = 60
_BARE = re.compile(r"[A-Za-z0-9_-]+")
_STEP = re.compile(
    r"""(?P<bare>[A-Za-z0-9_-]+)|(?P<basic>"(?:[^"\\]|\\.)*")|'(?P<literal>[^']*)'"""
)
_INDEX_DIGITS = r"[0-9]{1,6}"
_INDEX = re.compile(rf"\[({_INDEX_DIGITS})\]")


def path_text(path: Path) -> str:
    """A path as a file would write it: `fault[0].at_s`; odd keys are quoted, long ones cut."""
    text = ""
    for step in path:
        if isinstance(step, int):
            text += f"[{step}]"
        else:
            text += ("." if text else "") + _key_text(step)
    return text


def _key_text(key: str) -> str:
    written = key if _BARE.fullmatch(key) else json.dumps(key[:_LONGEST_KEY])
    return written if len(key) <= _LONGEST_KEY else f"{written[:_LONGEST_KEY]}…"


def path_of(text: str) -> Path:
    """The path that a text writes; `fault.0.at_s` has text for its 0. ValueError if it is none."""
    path: list[str | int] = []
    at = 0
    while True:
        step = _STEP.match(text, at)
        if not step:
            raise ValueError(text)
        path.append(_key(step))
        at = step.end()
        while index := _INDEX.match(text, at):
            path.append(int(index[1]))
            at = index.end()
        if at == len(text):
            return tuple(path)
        if text[at] != ".":
            raise ValueError(text)
        at += 1


def _key(step: re.Match[str]) -> str:
    if step["bare"] is not None:
        return step["bare"]
    if step["literal"] is not None:
        return step["literal"]
    return str(json.loads(step["basic"]))


def index_of(step: str | int) -> int | None:
    """The index that a step of a path writes, as 0 or as the text of it; None for a key."""
    if isinstance(step, int):
        return step
    return int(step) if re.fullmatch(_INDEX_DIGITS, step) else None


def line_of(path: Path, lines: Mapping[Path, int]) -> int:
    """Line of a path, or of the nearest table around it; 0 if there is none."""
    for length in range(len(path), 0, -1):
        if path[:length] in lines:
            return lines[path[:length]]
    return 0


def listed(words: Collection[str], nothing: str = "there is none") -> str:
    """Known words for a message; of many, the first."""
    first = list(words)[:_MOST_LISTED]
    more = [f"and {len(words) - len(first)} more"] if len(words) > len(first) else []
    return ", ".join([*first, *more]) or nothing


def nearest(word: object, known: Iterable[object]) -> str:
    """A hint that names the known word most like this one; empty if none is."""
    close = difflib.get_close_matches(str(word)[:80], [str(name) for name in known], n=1)
    return f", did you mean {close[0]!r}?" if close else ""


_BLANK = re.compile(r"(?:[ \t\r\n]++|#[^\n]*+)*+")
_STRING = re.compile(
    r'"""(?:[^"\\]++|\\.|"(?!""))*+"{3,5}'
    r"|'''(?:[^']++|'(?!''))*+'{3,5}"
    r'|"(?:[^"\\\n]++|\\.)*+"'
    r"|'[^'\n]*'",
    re.DOTALL,
)
_WORD = re.compile(r"[^\s,\]}#=]+(?: [^\s,\]}#=]+)?")
_KEY = re.compile(r"""[ \t]*(?:([A-Za-z0-9_-]+)|("(?:[^"\\\n]|\\.)*")|'([^'\n]*)')[ \t]*(\.?)""")


Span = tuple[int, int]
"""Where something begins in a text, and where it ends."""


class Statement(msgspec.Struct, frozen=True):
    """One `key = value` that is no part of an inline table."""

    path: Path
    table: Path
    """Of the header that it stands under."""
    span: Span


class Header(msgspec.Struct, frozen=True):
    """A `[table]` or an element of an `[[array]]`."""

    path: Path
    span: Span


class Places(msgspec.Struct):
    """What stands where in a text, and where its scanner is: the only thing here that changes."""

    text: str
    at: int = 0
    line: int = 1
    lines: dict[Path, int] = msgspec.field(default_factory=dict)
    values: dict[Path, Span] = msgspec.field(default_factory=dict)
    statements: list[Statement] = msgspec.field(default_factory=list)
    headers: list[Header] = msgspec.field(default_factory=list)

    def skip(self, pattern: re.Pattern[str]) -> None:
        """Step over what a pattern matches, counting lines."""
        if found := pattern.match(self.text, self.at):
            self.move(found.end())

    def move(self, end: int) -> None:
        """Go on to a place further on, counting lines."""
        self.line += self.text.count("\n", self.at, end)
        self.at = end

    def sees(self, token: str) -> bool:
        """Whether a token stands here."""
        return self.text.startswith(token, self.at)


def line_index(text: str) -> dict[Path, int]:
    """Line, from 1, of every key path of a valid TOML text, such as `("fault", 0, "at_s")`."""
    return places_of(text).lines


def places_of(text: str) -> Places:
    """Where every header, statement and value of a valid TOML text stands."""
    place = Places(text)
    counts: dict[Path, int] = {}
    table: Path = ()
    place.skip(_BLANK)
    while place.at < len(text):
        start = place.at
        if place.sees("["):
            table = _table(place, counts)
            place.headers.append(Header(table, (start, place.at)))
        else:
            path = _pair(place, table)
            place.statements.append(Statement(path, table, (start, place.at)))
        place.skip(_BLANK)
    return place


def _table(place: Places, counts: dict[Path, int]) -> Path:
    """The path of a `[table]` or `[[array]]` header; an array gains an element."""
    brackets = 2 if place.sees("[[") else 1
    place.move(place.at + brackets)
    path: Path = ()
    keys = tuple(_keys(place))
    for number, key in enumerate(keys, 1):
        path += (key,)
        if number == len(keys) and brackets == 2:
            counts[path] = counts.get(path, -1) + 1
            place.lines.setdefault(path, place.line)
        if path in counts:
            path += (counts[path],)
        place.lines.setdefault(path, place.line)
    place.lines[path] = place.line
    place.move(place.at + brackets)
    return path


def _keys(place: Places) -> Iterator[str]:
    """The parts of a dotted key; stands behind it afterwards."""
    more = True
    while more and (found := _KEY.match(place.text, place.at)):
        place.move(found.end())
        more = bool(found[4])
        if found[2] is not None:
            yield _unquoted(found[2])
        else:
            yield found[1] if found[1] is not None else found[3]


def _unquoted(basic: str) -> str:
    """A quoted key as the parser reads it; escapes are rare, so that the parser is asked."""
    if "\\" not in basic:
        return basic[1:-1]
    return str(next(iter(tomllib.loads(f"{basic} = 0"))))


def _pair(place: Places, base: Path) -> Path:
    """The path of one `key = value`; a dotted key names its tables too."""
    line = place.line
    path = base
    for key in _keys(place):
        path += (key,)
        place.lines.setdefault(path, line)
    place.move(place.at + 1)
    _value(place, path)
    return path


def _value(place: Places, path: Path) -> None:
    place.skip(_BLANK)
    start = place.at
    _skip_value(place, path)
    place.values[path] = start, place.at


def _skip_value(place: Places, path: Path) -> None:
    if place.sees("["):
        _array(place, path)
    elif place.sees("{"):
        _inline_table(place, path)
    else:
        before = place.at
        place.skip(_STRING if place.text[before] in "\"'" else _WORD)
        assert place.at > before, f"line {place.line}: no value where the parser found one"


def _array(place: Places, path: Path) -> None:
    place.move(place.at + 1)
    number = 0
    place.skip(_BLANK)
    while not place.sees("]"):
        place.lines[*path, number] = place.line
        _value(place, (*path, number))
        number += 1
        _comma(place)
    place.move(place.at + 1)


def _inline_table(place: Places, path: Path) -> None:
    place.move(place.at + 1)
    place.skip(_BLANK)
    while not place.sees("}"):
        _pair(place, path)
        _comma(place)
    place.move(place.at + 1)


def _comma(place: Places) -> None:
    place.skip(_BLANK)
    if place.sees(","):
        place.move(place.at + 1)
        place.skip(_BLANK)
