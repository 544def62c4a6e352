"""A scenario's text with keys set in it: only what a key needs is changed, comments stay.

The text was read before, so that its syntax can be trusted. What comes out is read again: it says
what the text says with the keys set, or it is refused.
"""

import json
import re
import tomllib
from collections.abc import Iterable
from textwrap import wrap
from typing import Any

from radiosim.errors import RadiosimError, ScenarioError
from radiosim.safety import CAUTION
from radiosim.scenario.key_paths import Header, Path, Places, Statement, path_text, places_of
from radiosim.scenario.override import overridden

WIDTH = 100
"""Of a comment."""
_BARE = re.compile(r"[A-Za-z0-9_-]+")


class EditError(RadiosimError):
    """A key that cannot be set in a text as it is written."""


def edited(text: str, overrides: Iterable[str]) -> str:
    """The text with each `KEY=VALUE` set, as `overridden` sets it in what the text says.

    Raises ScenarioError for an override that is none, EditError for one that cannot be written.
    """
    for line in overrides:
        document, paths, problems = overridden(tomllib.loads(text), (line,))
        if problems:
            raise ScenarioError(problems)
        text = _with_value(text, paths[0], _value_at(document, paths[0]))
        if not _says(text, document):
            raise EditError(
                f"--write: {path_text(paths[0])} cannot be set in the file as it is written; "
                f"set it there by hand, or use --set {line}"
            )
    return text


def with_caution(text: str, of_change: str = "") -> str:
    """The text with the one caution in its comments, where it has none yet.

    `of_change`: what to know of what was set; empty: nothing.
    """
    plain = " ".join(text.replace("\n#", "\n").split())
    said = (*((of_change,) if of_change else ()), *(() if CAUTION in plain else (CAUTION,)))
    lines = [
        line
        for caution in said
        for line in wrap(f"Caution: {caution}", WIDTH, initial_indent="# ", subsequent_indent="# ")
    ]
    return "\n".join((*lines, "", text)) if lines else text


def _says(text: str, document: dict[str, Any]) -> bool:
    try:
        return tomllib.loads(text) == document
    except ValueError:
        return False


def _value_at(document: Any, path: Path) -> Any:
    for step in path:
        document = document[step]
    return document


def _with_value(text: str, path: Path, value: Any) -> str:
    """The text with one value in place of what the path had, or where it belongs."""
    places = places_of(text)
    if path in places.values:
        start, end = places.values[path]
        return text[:start] + toml_of(value) + text[end:]
    without = _without(text, places, path)
    return _inserted(without, places_of(without), path, value)


def _without(text: str, places: Places, path: Path) -> str:
    """The text without the lines of a table, however it is spread over the text."""
    parts: tuple[Header | Statement, ...] = (*places.statements, *places.headers)
    gone = [part.span for part in parts if part.path[: len(path)] == path]
    for start, end in sorted(gone, reverse=True):
        text = text[: text.rfind("\n", 0, start) + 1] + text[_line_end(text, end) :]
    return text


def _inserted(text: str, places: Places, path: Path, value: Any) -> str:
    """The text with a value added in the innermost table around it that there is."""
    for length in range(len(path) - 1, -1, -1):
        around, rest = path[:length], path[length:]
        if around in places.values:
            return _in_value(text, places.values[around], rest, value)
        if any(header.path == around for header in places.headers):
            return _under_header(text, places, around, rest, value)
        if isinstance(rest[0], int):
            return f"{text.rstrip()}\n\n[[{_key(around)}]]\n{_lines(rest[1:], value)}"
        dotted = [
            statement
            for statement in places.statements
            if len(statement.table) < length and statement.path[:length] == around
        ]
        if dotted and around:
            last = dotted[-1]
            line = _statement(path[len(last.table) :], value)
            return _after_line(text, last.span[0], last.span[1], line)
        if around and any(header.path[:length] == around for header in places.headers):
            return _as_table(text, places, around, path, value)
    return _at_root(text, places, path, value)


def _in_value(text: str, span: tuple[int, int], rest: Path, value: Any) -> str:
    """A value added to an inline table, or to the end of an array."""
    start, end = span
    is_table = text[start] == "{"
    added = _statement(rest, value) if is_table else toml_of(_nested(rest[1:], value))
    inside = text[start + 1 : end - 1]
    if "\n" in inside and not is_table:
        return _in_long_array(text, end, added)
    kept = inside.rstrip().rstrip(",").rstrip()
    tail = " " if is_table else ""
    joint = f"{kept}, " if kept else tail
    return f"{text[: start + 1]}{joint}{added}{tail}{text[end - 1 :]}"


def _in_long_array(text: str, end: int, added: str) -> str:
    """An element on a line of its own, before the bracket of an array of several lines."""
    places = places_of(text)
    spans = [
        span
        for path, span in places.values.items()
        if path and isinstance(path[-1], int) and places.values.get(path[:-1], (0, 0))[1] == end
    ]
    _, last_end = spans[-1]
    first_start, _ = spans[0]
    line_end = text.find("\n", last_end)
    between = text[last_end : line_end if 0 <= line_end < end else end - 1]
    comma = "" if between.lstrip().startswith(",") else ","
    indent = text[text.rfind("\n", 0, first_start) + 1 : first_start]
    indent = indent if indent.isspace() else "  "
    if not 0 <= line_end < end:
        return f"{text[:last_end]}, {added}{text[end - 1 :]}"
    return f"{text[:last_end]}{comma}{text[last_end:line_end]}\n{indent}{added},{text[line_end:]}"


def _under_header(text: str, places: Places, around: Path, rest: Path, value: Any) -> str:
    """A line at the end of what stands under a header."""
    own = [part.span for part in places.statements if part.table == around]
    header = next(header.span for header in places.headers if header.path == around)
    start, end = own[-1] if own else header
    return _after_line(text, start, end, _statement(rest, value))


def _as_table(text: str, places: Places, around: Path, path: Path, value: Any) -> str:
    """A table of its own, behind the last one of the same kind."""
    parts: tuple[Header | Statement, ...] = (*places.headers, *places.statements)
    end = max(part.span[1] for part in parts if part.path[: len(around)] == around)
    lines = f"\n[{_key(path[:-1])}]\n{_statement(path[-1:], value)}"
    return _after_line(text, end, end, lines)


def _at_root(text: str, places: Places, path: Path, value: Any) -> str:
    """A key of the whole scenario before its tables, or a table behind all others."""
    own = [part for part in places.statements if not part.table]
    if len(path) > 1 and places.headers:
        return f"{text.rstrip()}\n\n[{_key(path[:-1])}]\n{_statement(path[-1:], value)}\n"
    if own:
        return _after_line(text, own[-1].span[0], own[-1].span[1], _statement(path, value))
    start = places.headers[0].span[0] if places.headers else len(text)
    return f"{text[:start]}{_statement(path, value)}\n\n{text[start:]}"


def _after_line(text: str, start: int, end: int, line: str) -> str:
    """A line behind the one on which something ends, indented as that which begins there."""
    indent = text[text.rfind("\n", 0, start) + 1 : start]
    indent = indent if indent.isspace() else ""
    at = _line_end(text, end)
    gap = "" if text[:at].endswith("\n") else "\n"
    return f"{text[:at]}{gap}{indent}{line}\n{text[at:]}"


def _line_end(text: str, at: int) -> int:
    """Where the line after the one at a place begins."""
    found = text.find("\n", at)
    return len(text) if found < 0 else found + 1


def _statement(path: Path, value: Any) -> str:
    """`key.path = value`; what lies behind an index becomes an array."""
    keys = next((k for k, step in enumerate(path) if isinstance(step, int)), len(path))
    return f"{_key(path[:keys])} = {toml_of(_nested(path[keys:], value))}"


def _lines(path: Path, value: Any) -> str:
    """What stands under the header of a new element."""
    nested = _nested(path, value)
    if not isinstance(nested, dict):
        return f"{toml_of(nested)}\n"
    return "".join(f"{_key((key,))} = {toml_of(inner)}\n" for key, inner in nested.items())


def _nested(path: Path, value: Any) -> Any:
    for step in reversed(path):
        value = [value] if isinstance(step, int) else {step: value}
    return value


def _key(path: Path) -> str:
    return ".".join(
        str(step) if _BARE.fullmatch(str(step)) else json.dumps(str(step)) for step in path
    )


def toml_of(value: Any) -> str:
    """A value as TOML writes it, on one line."""
    if isinstance(value, dict):
        inside = ", ".join(f"{_key((key,))} = {toml_of(inner)}" for key, inner in value.items())
        return f"{{ {inside} }}" if inside else "{}"
    if isinstance(value, list):
        return f"[{', '.join(map(toml_of, value))}]"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    return str(value)
