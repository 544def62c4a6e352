"""Words, keys, tables and figures as one list of entries, as text of 80 columns, and as JSON."""

import textwrap
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any, Literal

from radiosim.registers.figure import COUNT, TABLES, Figure
from radiosim.registers.figure_register import FIGURES
from radiosim.report.glossary.words import WORDS
from radiosim.results.data import json_of
from radiosim.scenario.key_paths import index_of
from radiosim.scenario.schema import NAME, NUMBER, Key, keys

PLACEHOLDERS = (NAME, NUMBER)
EntryPath = tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One thing that can be explained."""

    path: EntryPath
    """With placeholders, or the user's own names in their stead."""
    what: Literal["key", "table", "figure", "word", "verdict", "fault", "loss"]
    meaning: str
    unit: str = ""
    standard: str = ""
    """Of a word: the term of a standard or of the field; empty: it is that itself."""
    allowed: str = ""
    default: str = ""
    moves: tuple[EntryPath, ...] = ()
    """Of a key: the figures that it moves most."""
    moved_by: tuple[EntryPath, ...] = ()
    """Of a figure: the keys that move it most."""
    measure: str = ""
    note: str = ""
    inner: tuple["Entry", ...] = ()
    """Of a table: its keys."""


def word_entries() -> tuple[Entry, ...]:
    """Every word of the screens: terms, verdicts, kinds of fault, causes of loss."""
    return tuple(
        Entry(
            path=(word.word,),
            what=kind,
            meaning=word.meaning,
            unit=word.unit,
            standard=word.standard,
        )
        for kind, words in WORDS.items()
        for word in words
    )


def entries() -> tuple[Entry, ...]:
    """Every key and table of a scenario file, then every figure of the results."""
    all_keys = keys()
    return (*_tables(all_keys), *_figures(all_keys))


def _tables(all_keys: tuple[Key, ...]) -> Iterator[Entry]:
    plain = {key.path: _of_key(key) for key in all_keys if not key.is_table}
    tables = {key.path: key for key in all_keys if key.is_table}
    yield from (entry for path, entry in plain.items() if path[0] not in _roots(tables))
    for path, key in tables.items():
        inside = tuple(
            _of_key(inner)
            for inner in all_keys
            if inner.path != path and inner.path[: len(path)] == path and not inner.is_table
        )
        step = inside[0].path[len(path)] if inside else ""
        whole = (*path, step) if step in PLACEHOLDERS else path
        yield Entry(path=whole, what="table", meaning=key.meaning, inner=inside)
        yield from inside


def _roots(tables: dict[EntryPath, Key]) -> set[str]:
    return {path[0] for path in tables}


def _of_key(key: Key) -> Entry:
    notes = []
    if key.of_kinds:
        notes.append(f"with kind = {' or '.join(key.of_kinds)}")
    if key.path[-1] == "retry_delay_us":
        notes.append("step number in firmware: delay / 250 - 1")
    return Entry(
        path=key.path,
        what="key",
        meaning=key.meaning,
        unit=key.unit,
        allowed=key.allowed,
        default=key.default or "none: it must be given",
        moves=tuple(figure_path(figure) for figure in key.moves),
        measure=key.measure,
        note="; ".join(notes),
    )


def figure_path(figure: str) -> EntryPath:
    """The path of a figure that a key names without names: `stream.gap_ms.max`."""
    root, rest = figure.split(".", 1)
    table = next(path for name, path in TABLES.items() if name == root)
    return (*table, *rest.split("."))


def _figures(all_keys: tuple[Key, ...]) -> Iterator[Entry]:
    movers: dict[EntryPath, list[EntryPath]] = {}
    for key in all_keys:
        for figure in key.moves:
            movers.setdefault(figure_path(figure), []).append(key.path)
    for row in FIGURES.values():
        path = (*TABLES[row.table], *row.name.split("."))
        moved_by = tuple(movers.get(path, ()))
        yield _figure(row, path, row.meaning, moved_by)
        for part in row.parts:
            if part:
                yield _figure(row, (*path, part), f"{row.meaning}: {row.part_text(part)}", moved_by)


def _figure(row: Figure, path: EntryPath, meaning: str, movers: tuple[EntryPath, ...]) -> Entry:
    return Entry(
        path=path,
        what="figure",
        meaning=meaning,
        unit=COUNT if path[-1] == "n" else row.unit,
        moved_by=movers,
        measure=row.measure,
    )


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
    """The same as JSON: an object of each, under `entries`."""
    return json_of({"entries": [_object(entry) for entry in found]})


def path_text(path: EntryPath) -> str:
    """A path as the scenario or the results write it; numbers of elements in brackets."""
    text = ""
    for step in path:
        is_number = step == "N" or index_of(step) is not None
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
