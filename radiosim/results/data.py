"""The data of a report as JSON and its schema, and tables as files and data frames."""

import io
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from importlib import import_module
from importlib.util import find_spec
from typing import Any

import msgspec
import numpy as np
from msgspec import UNSET, Struct

from radiosim.errors import RadiosimError
from radiosim.results.document import Column, Report, Table
from radiosim.safety import CAUTION

CAUTION_KEY = "caution"
"""Key of the caution that every JSON begins with."""
INTERVAL = "_ci95"
"""How the name of an interval ends."""
Record = dict[str, Any]


def json_text(report: Report) -> str:
    """The data as JSON, indented by two; what could not be measured is null."""
    return json_of(report.data)


_CONTROLS = re.compile(r"[\x7f-\x9f\u200e\u200f\u2028-\u202e\u2066-\u2069]")
"""Letters that JSON may have as they are in its texts, and that steer a terminal."""


def json_of(data: Any) -> str:
    """Data as JSON text, indented by two, with a line end after it; its first key is the caution.

    `data`: what becomes an object.
    """
    keys = msgspec.json.decode(msgspec.json.encode(data), type=dict[str, msgspec.Raw])
    told = msgspec.json.encode({CAUTION_KEY: CAUTION, **keys})
    text = msgspec.json.format(told, indent=2).decode() + "\n"
    return _CONTROLS.sub(lambda found: f"\\u{ord(found[0]):04x}", text)


def schema(kind: Any) -> dict[str, Any]:
    """JSON Schema of the JSON of some data, from their type: that of an object."""
    document = msgspec.json.schema(kind)
    described = document["$defs"][document["$ref"].rsplit("/", 1)[-1]]
    told = {"type": "string", "description": "What can hurt somebody."}
    described["properties"] = {CAUTION_KEY: told, **described["properties"]}
    described["required"] = [CAUTION_KEY, *described.get("required", ())]
    return {"$comment": CAUTION, **document}


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


_WHOLE_MOST = 1 << 63
_TO_QUOTE = frozenset(',"\r\n')
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")
"""What a spreadsheet takes for the beginning of a formula, which can run and send things; at the
end the same four signs as wide as an ideograph."""


class TableError(RadiosimError):
    """A table cannot be written as it was asked for."""


def columns_of(table: Table) -> dict[str, list[Any]]:
    """Key → values of each column that files hold."""
    return {table.columns[k].key: [row[k] for row in table.rows] for k in table.in_data}


def csv_text(table: Table) -> str:
    """A table as comma-separated values, keys first; None is an empty cell (RFC 4180).

    A text that begins like a formula gets an apostrophe before it.
    """
    columns = columns_of(table)
    rows = zip(*columns.values(), strict=True)
    lines = [_line([_harmless(key, key) for key in columns])]
    lines += [_line([_harmless(_cell(value), value) for value in row]) for row in rows]
    return "".join(f"{line}\n" for line in lines)


def _line(cells: Sequence[str]) -> str:
    # An empty line would be no row.
    return ",".join(map(_quoted, cells)) or '""'


def _quoted(cell: str) -> str:
    return '"' + cell.replace('"', '""') + '"' if _TO_QUOTE.intersection(cell) else cell


def _cell(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    return str(value)


def _harmless(cell: str, value: Any) -> str:
    """A text's cell that no spreadsheet takes for a formula; a number's as it is."""
    return f"'{cell}" if isinstance(value, str) and cell.startswith(_FORMULA) else cell


def csv_files(report: Report) -> dict[str, str]:
    """File name → text of each table."""
    return {f"{table.key}.csv": csv_text(table) for table in report.data_tables()}


def check_parquet() -> None:
    """TableError if the library that writes Parquet is not there."""
    if find_spec("pyarrow") is None:
        raise TableError("--parquet: needs pyarrow: python -m pip install -e '.[parquet]'")


def parquet_files(report: Report) -> dict[str, bytes]:
    """File name → Parquet of each table; TableError if pyarrow is not there."""
    check_parquet()
    return {f"{table.key}.parquet": parquet_bytes(table) for table in report.data_tables()}


def parquet_bytes(table: Table) -> bytes:
    """A table as Parquet; a column is of one type, and None is null."""
    import pyarrow  # noqa: PLC0415 - an extra
    from pyarrow import parquet  # noqa: PLC0415 - an extra

    content = io.BytesIO()
    columns = {key: _of_one_type(values) for key, values in columns_of(table).items()}
    parquet.write_table(pyarrow.table(columns), content)
    return content.getvalue()


def _of_one_type(values: Sequence[Any]) -> list[Any]:
    """Values all true or false, whole, numbers, or texts: the narrowest that holds each."""
    there = [value for value in values if value is not None]
    if all(isinstance(value, bool) for value in there):
        return list(values)
    is_number = all(isinstance(v, int | float) and not isinstance(v, bool) for v in there)
    if is_number and all(isinstance(v, int) and -_WHOLE_MOST <= v < _WHOLE_MOST for v in there):
        return list(values)
    if is_number:
        return [None if value is None else float(value) for value in values]
    return [None if value is None else _cell(value) for value in values]


def array_of(values: Sequence[Any]) -> "np.ndarray[Any, Any]":
    """A column as an array: int64, float64 (None is nan), bool, or objects (None stays None)."""
    typed = _of_one_type(values)
    there = [value for value in typed if value is not None]
    if not there:
        return np.full(len(typed), np.nan)
    if isinstance(there[0], float) or (type(there[0]) is int and len(there) < len(typed)):
        return np.array([np.nan if value is None else value for value in typed], dtype=np.float64)
    if isinstance(there[0], str) or len(there) < len(typed):
        return np.array(typed, dtype=object)
    return np.array(typed)


def frame_of(table: Table) -> Any:
    """A pandas DataFrame if pandas is installed, else key → numpy array of each column."""
    arrays = {key: array_of(values) for key, values in columns_of(table).items()}
    return arrays if find_spec("pandas") is None else import_module("pandas").DataFrame(arrays)


def frames_of(report: Report) -> Mapping[str, Any]:
    """Key of each table → its DataFrame, or its arrays where pandas is not installed."""
    return {table.key: frame_of(table) for table in report.data_tables()}
