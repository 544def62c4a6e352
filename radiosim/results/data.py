"""The data of a report as JSON, its schema, and its structs as rows of a table."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

import msgspec
from msgspec import UNSET, Struct

from radiosim.results.document import Column, Report, Table

INTERVAL = "_ci95"
"""How the name of an interval ends."""
Record = dict[str, Any]


def json_text(report: Report) -> str:
    """The data as JSON, indented by two; what could not be measured is null."""
    return json_of(report.data)


def json_of(data: Any) -> str:
    """Data as JSON text, indented by two, with a line end after it."""
    return msgspec.json.format(msgspec.json.encode(data), indent=2).decode() + "\n"


def schema(kind: Any) -> dict[str, Any]:
    """JSON Schema of the data of a report, from its type."""
    return msgspec.json.schema(kind)


def record_of(value: Struct, leave_out: tuple[str, ...] = ()) -> Record:
    """A struct as one row, nested fields as `outer.inner`, intervals as `.low` and `.high`.

    Fields that are not set, and those to leave out, have no column. Numbers in a row that is no
    interval share a cell.
    """
    return dict(_cells(value, "", leave_out))


def _cells(value: Any, path: str, leave_out: tuple[str, ...] = ()) -> Iterator[tuple[str, Any]]:
    for name, inner in _items(value):
        if inner is UNSET or name in leave_out:
            continue
        inner_path = f"{path}.{name}" if path else name
        if isinstance(inner, tuple) and not name.endswith(INTERVAL):
            yield inner_path, "; ".join(f"{number:g}" for number in inner)
        elif isinstance(inner, Struct | dict | tuple):
            yield from _cells(inner, inner_path)
        else:
            yield inner_path, inner


def _items(value: Any) -> Iterable[tuple[str, Any]]:
    if isinstance(value, Struct):
        return ((name, getattr(value, name)) for name in value.__struct_fields__)
    if isinstance(value, tuple):
        return zip(("low", "high"), value, strict=True)
    items: Iterable[tuple[str, Any]] = value.items()
    return items


def record_table(
    key: str, records: Sequence[Mapping[str, Any]], first: tuple[str, ...] = ()
) -> Table:
    """A table for files alone, with every column that any record has; `first` are always there."""
    names = dict.fromkeys((*first, *(name for record in records for name in record)))
    return Table(
        key=key,
        columns=tuple(Column(key=name) for name in names),
        rows=tuple(tuple(record.get(name) for name in names) for record in records),
        where="data",
    )
