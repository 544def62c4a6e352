"""Stale figures as flat rows: `gap_ms.p99` instead of one table inside another."""

from collections.abc import Iterable, Iterator
from typing import Any

from msgspec import UNSET, Struct

Row = dict[str, Any]
INTERVAL = "_ci95"
"""How the name of an interval ends."""


def flat(value: Struct, leave_out: tuple[str, ...] = ()) -> Row:
    """One row of a struct's fields, nested ones as `outer.inner`, intervals as `.low`, `.high`.

    Fields that are not set, and those to leave out, have no column. Numbers in a row that is no
    interval share a cell.
    """
    return dict(_cells(value, "", leave_out))


def columns_of(rows: Iterable[Row]) -> tuple[str, ...]:
    """Every column that any of the rows has, in the order in which they first appear."""
    return tuple(dict.fromkeys(name for row in rows for name in row))


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
