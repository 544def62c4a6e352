"""Words, keys, tables and figures as one list of entries."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from radiosim.registers.figure import COUNT, TABLES, Figure
from radiosim.registers.figure_register import FIGURES
from radiosim.report.glossary.words import WORDS
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
