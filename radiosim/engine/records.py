"""State of compiled code as one nested record, and its stand-in where nothing is compiled.

Both are made from annotations of a class: `int` is 64 bits wide, `Sequence[C]` an array of
records, `list[int]` an array of numbers; `counts` gives the length of each array field by name.
"""

from collections.abc import Sequence
from types import SimpleNamespace
from typing import Annotated, Any, get_args, get_origin, get_type_hints

import numpy as np

from radiosim.trace import table_dtype


def dtype_of(shape: type, counts: dict[str, int]) -> np.dtype[Any]:
    """The record whose fields are a class's annotations; `counts`: length of each array field."""
    fields: list[Any] = []
    for name, kind in get_type_hints(shape, include_extras=True).items():
        if get_origin(kind) is Annotated:
            fields.append((name, table_dtype(get_args(kind)[1]), counts[name]))
        elif get_origin(kind) in (Sequence, tuple, list):
            fields.append((name, _field(get_args(kind)[0], counts), counts[name]))
        else:
            fields.append((name, _field(kind, counts)))
    return np.dtype(fields)


def _field(kind: type, counts: dict[str, int]) -> Any:
    if kind is int:
        return "i8"
    if kind is float:
        return "f8"
    return dtype_of(kind, counts)


def blank(shape: type, counts: dict[str, int]) -> Any:
    """A plain object with the same fields, all zero: the same functions run on it uncompiled."""
    record = SimpleNamespace()
    for name, kind in get_type_hints(shape, include_extras=True).items():
        inner = get_args(kind)[0] if get_origin(kind) in (Sequence, tuple, list) else None
        if inner is None:
            value = _zero(kind, counts)
        else:
            value = [_zero(inner, counts) for _ in range(counts[name])]
        setattr(record, name, value)
    return record


def _zero(kind: type, counts: dict[str, int]) -> Any:
    if kind is int:
        return 0
    return 0.0 if kind is float else blank(kind, counts)


def fill(record: Any, row: Any) -> None:
    """Copy a row of the plan into its record; lists of rows fill the first places."""
    for name, value in row._asdict().items():
        if isinstance(value, tuple):
            for j, work in enumerate(value):
                record[name][j] = tuple(work)
        else:
            record[name] = value
