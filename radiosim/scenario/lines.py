"""The line on which each key of a TOML text stands.

The standard parser keeps no lines. This scanner walks a text that the parser has already taken,
once from front to back, so it may trust the syntax and only needs to find where things begin.
"""

import re
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass, field

from radiosim.scenario.paths import Path

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


@dataclass(slots=True)
class _Place:
    """Where the scanner stands: the only thing here that changes."""

    text: str
    at: int = 0
    line: int = 1
    lines: dict[Path, int] = field(default_factory=dict)

    def skip(self, pattern: re.Pattern[str]) -> None:
        """Step over what a pattern matches, counting lines."""
        if found := pattern.match(self.text, self.at):
            self.move(found.end())

    def move(self, end: int) -> None:
        self.line += self.text.count("\n", self.at, end)
        self.at = end

    def sees(self, token: str) -> bool:
        return self.text.startswith(token, self.at)


def line_index(text: str) -> dict[Path, int]:
    """Line, from 1, of every key path of a valid TOML text, such as `("fault", 0, "at_s")`."""
    place = _Place(text)
    counts: dict[Path, int] = {}
    base: Path = ()
    place.skip(_BLANK)
    while place.at < len(text):
        if place.sees("["):
            base = _table(place, counts)
        else:
            _pair(place, base)
        place.skip(_BLANK)
    return place.lines


def _table(place: _Place, counts: dict[Path, int]) -> Path:
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


def _keys(place: _Place) -> Iterator[str]:
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


def _pair(place: _Place, base: Path) -> None:
    """One `key = value`; a dotted key names its tables too."""
    line = place.line
    path = base
    for key in _keys(place):
        path += (key,)
        place.lines.setdefault(path, line)
    place.move(place.at + 1)
    _value(place, path)


def _value(place: _Place, path: Path) -> None:
    place.skip(_BLANK)
    if place.sees("["):
        _array(place, path)
    elif place.sees("{"):
        _inline_table(place, path)
    else:
        before = place.at
        place.skip(_STRING if place.text[before] in "\"'" else _WORD)
        assert place.at > before, f"line {place.line}: no value where the parser found one"


def _array(place: _Place, path: Path) -> None:
    place.move(place.at + 1)
    number = 0
    place.skip(_BLANK)
    while not place.sees("]"):
        place.lines[*path, number] = place.line
        _value(place, (*path, number))
        number += 1
        _comma(place)
    place.move(place.at + 1)


def _inline_table(place: _Place, path: Path) -> None:
    place.move(place.at + 1)
    place.skip(_BLANK)
    while not place.sees("}"):
        _pair(place, path)
        _comma(place)
    place.move(place.at + 1)


def _comma(place: _Place) -> None:
    place.skip(_BLANK)
    if place.sees(","):
        place.move(place.at + 1)
        place.skip(_BLANK)
