"""Overrides: `transmitter.drive.period_ms=15`, or a key and its value, before all is judged."""

import tomllib
from collections.abc import Iterable, Mapping
from typing import Any

from radiosim.errors import Problem
from radiosim.scenario.key_paths import Path, index_of, path_of, path_text
from radiosim.scenario.problems import shown

OVERRIDE_FILE = "--set"
"""Stands for the file's name in the problems of an override."""
REPLACE_FILE = "replace"
"""The same for values that a Python program sets."""

Document = dict[str, Any]


class _OverrideError(Exception):
    """What is wrong with one override: (path, text)."""


def overridden(
    document: Document, overrides: Iterable[str]
) -> tuple[Document, tuple[Path, ...], tuple[Problem, ...]]:
    """A copy of the document with each `KEY=VALUE` set, the paths set, and what went wrong.

    A value is read as TOML; what is none, such as a bare word, is text. Tables on the way that do
    not exist yet are made. Elements are `fault[0].at_s` or `fault.0.at_s`; the index one past the
    last makes a new element.
    """
    changed: Document = _copied(document)
    paths: list[Path] = []
    problems: list[Problem] = []
    for override in overrides:
        try:
            path, value = _split(override)
            paths.append(_put(changed, path, value))
        except _OverrideError as error:
            where, text = error.args
            problems.append(Problem(file=OVERRIDE_FILE, path=where, text=text))
    return changed, tuple(paths), tuple(problems)


def _copied(value: Any) -> Any:
    """A document once more; what is neither table nor list cannot be changed in place."""
    if isinstance(value, dict):
        return {key: _copied(inner) for key, inner in value.items()}
    return [_copied(inner) for inner in value] if isinstance(value, list) else value


def with_values(
    document: Document, values: Mapping[str, Any]
) -> tuple[Document, tuple[Problem, ...]]:
    """A copy of the document with each key path set to its value, and what went wrong.

    Keys are those of `overridden`; a value is what TOML can say, numbers and arrays of numpy
    included.
    """
    changed: Document = _copied(document)
    problems: list[Problem] = []
    for key, value in values.items():
        try:
            path = _path(key)
            if not path:
                raise _OverrideError("", f"must be a key path, got {shown(key)}")
            _put(changed, path, _plain(key, value))
        except _OverrideError as error:
            where, text = error.args
            problems.append(Problem(file=REPLACE_FILE, path=where, text=text))
    return changed, tuple(problems)


def _plain(key: str, value: Any) -> Any:
    """A value as a document holds it: tuples are lists, numbers of numpy are Python's."""
    value = value.tolist() if hasattr(value, "tolist") else value
    if isinstance(value, Mapping) and all(isinstance(name, str) for name in value):
        return {name: _plain(key, inner) for name, inner in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(key, inner) for inner in value]
    if not isinstance(value, str | bool | int | float):
        what = "None" if value is None else type(value).__name__
        raise _OverrideError(
            key, f"must be text, a number, True, False, a list or a dict, got {what}"
        )
    return value


def _split(override: str) -> tuple[Path, Any]:
    key, equals, text = override.partition("=")
    key = key.strip()
    path = _path(key)
    if not (equals and path):
        raise _OverrideError("", f"must be KEY=VALUE, got {shown(override)}")
    return path, _value(key, text.strip())


def _path(key: str) -> Path:
    """The steps of a key path; none if it is no path."""
    try:
        return path_of(key)
    except ValueError:
        return ()


def _value(key: str, text: str) -> Any:
    if not text:
        raise _OverrideError(key, 'must have a value after "=", got nothing')
    try:
        parsed = tomllib.loads(f"value = {text}")
    except (ValueError, RecursionError):
        # Numbers too long to be read and the like are text too, and refused by the key's rule.
        parsed = {"value": text}
        if text[0] in "[{\"'":
            raise _OverrideError(key, f"must be a TOML value, got {shown(text)}") from None
    if parsed.keys() != {"value"}:
        raise _OverrideError(key, f"must be one value, got {shown(text)}")
    return parsed["value"]


def _put(document: Document, path: Path, value: Any) -> Path:
    """Set one key in place; the path with its indexes as numbers."""
    node: Any = document
    taken: Path = ()
    for number, written in enumerate(path):
        step = _step(node, written, path, taken)
        if number == len(path) - 1:
            _set(node, step, value)
        elif step not in node if isinstance(node, dict) else step == len(node):
            _set(node, step, {} if index_of(path[number + 1]) is None else [])
        node = node[step]
        taken += (step,)
    return taken


def _step(node: Any, written: str | int, path: Path, taken: Path) -> str | int:
    """A step as its container takes it: an index of a list, or a key of a table."""
    if isinstance(node, list):
        return _index(node, written, taken)
    if isinstance(node, dict) and isinstance(written, str):
        return written
    raise _OverrideError(
        path_text(path), f"must be inside a table, but {path_text(taken)} is {shown(node)}"
    )


def _set(node: Any, step: str | int, value: Any) -> None:
    if isinstance(node, list) and step == len(node):
        node.append(value)
    else:
        node[step] = value


def _index(node: list[Any], step: str | int, taken: Path) -> int:
    index = index_of(step)
    if index is None or index > len(node):
        raise _OverrideError(
            path_text((*taken, step)),
            f"must be an index from 0 to {len(node)} (the last makes a new one), "
            f"got {path_text((step,))}",
        )
    return index
