"""Entries as text of 80 columns, and as JSON."""

import json
import textwrap
from collections.abc import Iterable, Iterator
from typing import Any

from radiosim.report.glossary.entry import Entry, EntryPath, entries
from radiosim.report.glossary.words import WORDS

_WIDTH = 80
_LABEL = 9
_MOST_TOLD = 2
"""Entries of one name that are told in full; more are listed."""


def told(found: tuple[Entry, ...]) -> str:
    """What the entries mean; many of one name as a list of their paths."""
    if len(found) > _MOST_TOLD:
        rows = [(path_text(entry.path), entry.meaning) for entry in found]
        return "\n".join(["Several have this name:", *_rows(rows)])
    return "\n\n".join("\n".join(_lines(entry)) for entry in found)


def contents() -> str:
    """All words, then tables with their keys, then figures, in the order of the schema."""
    everything = entries()
    lines = ["Words (radiosim glossary WORD tells more)", ""]
    for kind, words in WORDS.items():
        lines += _wrapped(f"{_KINDS[kind]}: {', '.join(word.word for word in words)}")
    lines += [
        "",
        "Tables and keys of a scenario (radiosim glossary KEY tells more)",
        "",
    ]
    lines += _names("whole scenario", (e.path for e in everything if _is_of_scenario(e)))
    for table in everything:
        if table.what == "table":
            inner = (entry.path[len(table.path) :] for entry in table.inner)
            lines += _names(path_text(table.path), inner)
    lines += ["", "Figures of the results", ""]
    tables: dict[EntryPath, list[EntryPath]] = {}
    for entry in everything:
        if entry.what == "figure":
            root = 2 if entry.path[1] in ("NAME", "N") else 1
            tables.setdefault(entry.path[:root], []).append(entry.path[root:])
    for root_path, figures in tables.items():
        lines += _names(path_text(root_path), (f for f in figures if f[-1:] not in _PARTS))
    return "\n".join(lines)


_KINDS = {
    "word": "terms",
    "verdict": "verdicts",
    "fault": "kinds of fault",
    "loss": "causes of loss",
}
_PARTS = {(part,) for part in ("mean", "median", "p95", "p99", "max", "n")}


def as_json(found: Iterable[Entry]) -> str:
    """The same as a JSON list of objects."""
    return json.dumps([_object(entry) for entry in found], indent=2, ensure_ascii=False)


def path_text(path: EntryPath) -> str:
    """A path as the scenario or the results write it; numbers of elements in brackets."""
    text = ""
    for step in path:
        is_number = step == "N" or step.isdigit()
        text += f"[{step}]" if is_number else f".{step}" if text else step
    return text


def _is_of_scenario(entry: Entry) -> bool:
    return entry.what == "key" and len(entry.path) == 1


def _lines(entry: Entry) -> Iterator[str]:
    yield path_text(entry.path)
    yield from _labelled("means", entry.meaning)
    if entry.what == "table":
        yield from _labelled("note", entry.note)
        yield from _rows([(path_text(e.path[len(entry.path) :]), e.meaning) for e in entry.inner])
        return
    yield from _labelled("unit", entry.unit)
    yield from _labelled("standard", entry.standard)
    yield from _labelled("allowed", entry.allowed)
    yield from _labelled("default", entry.default)
    yield from _labelled("moves", _list(entry.moves, "no figure" if entry.what == "key" else ""))
    yield from _labelled("moved by", _list(entry.moved_by, ""))
    yield from _labelled("measure", entry.measure)
    yield from _labelled("note", entry.note)


def _list(paths: tuple[EntryPath, ...], nothing: str) -> str:
    return ", ".join(path_text(path) for path in paths) or nothing


def _labelled(label: str, text: str) -> list[str]:
    if not text:
        return []
    return textwrap.wrap(
        text,
        _WIDTH,
        initial_indent=f"  {label:<{_LABEL}}",
        subsequent_indent=" " * (_LABEL + 2),
        break_long_words=False,
        break_on_hyphens=False,
    )


def _rows(rows: list[tuple[str, str]]) -> Iterator[str]:
    width = min(max((len(name) for name, _ in rows), default=0), 30)
    for name, text in rows:
        first = f"  {name:<{width}}  "
        yield from textwrap.wrap(
            text, _WIDTH, initial_indent=first, subsequent_indent=" " * (width + 4)
        )


def _names(title: str, paths: Iterable[EntryPath]) -> list[str]:
    names = ", ".join(path_text(path) for path in paths)
    return _wrapped(f"{title}: {names}")


def _wrapped(text: str) -> list[str]:
    return textwrap.wrap(
        text,
        _WIDTH,
        subsequent_indent="  ",
        break_long_words=False,
        break_on_hyphens=False,
    )


def _object(entry: Entry) -> dict[str, Any]:
    common = {"path": path_text(entry.path), "what": entry.what, "meaning": entry.meaning}
    if entry.what == "table":
        keys = [path_text(inner.path) for inner in entry.inner]
        return {**common, "note": entry.note, "keys": keys}
    if entry.what in WORDS:
        return {**common, "unit": entry.unit, "standard": entry.standard}
    common |= {"unit": entry.unit, "measure": entry.measure}
    if entry.what == "figure":
        return {**common, "moved_by": [path_text(path) for path in entry.moved_by]}
    moves = [path_text(path) for path in entry.moves]
    rest = {"allowed": entry.allowed, "default": entry.default, "note": entry.note}
    return {**common, **rest, "moves": moves}
