"""Key paths: as tuples inside, as written in the file outside."""

import difflib
import json
import re
from collections.abc import Collection, Iterable, Mapping

Path = tuple[str | int, ...]

_MOST_LISTED = 8
_LONGEST_KEY = 60
_BARE = re.compile(r"[A-Za-z0-9_-]+")
_STEP = re.compile(
    r"""(?P<bare>[A-Za-z0-9_-]+)|(?P<basic>"(?:[^"\\]|\\.)*")|'(?P<literal>[^']*)'"""
)
_INDEX = re.compile(r"\[(\d{1,6})\]")


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
