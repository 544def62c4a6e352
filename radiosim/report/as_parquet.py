"""Tables as Parquet: those that CSV has, with numbers as numbers."""

import csv
import io
from collections.abc import Mapping, Sequence
from typing import Any

from radiosim.results.tables import check_parquet


def as_parquet(tables: Mapping[str, str]) -> dict[str, bytes]:
    """File name → Parquet, from file name → CSV text with a line of column names.

    A column is of whole numbers, numbers, true and false, or text, whichever holds all its cells;
    an empty cell is null. TableError if pyarrow is not there.
    """
    check_parquet()
    return {f"{name.removesuffix('.csv')}.parquet": _table(text) for name, text in tables.items()}


def _table(text: str) -> bytes:
    import pyarrow  # noqa: PLC0415 - an extra
    from pyarrow import parquet  # noqa: PLC0415 - an extra

    names, *rows = csv.reader(io.StringIO(text, newline=""))
    columns = {name: column_of([row[k] for row in rows]) for k, name in enumerate(names)}
    content = io.BytesIO()
    parquet.write_table(pyarrow.table(columns), content)
    return content.getvalue()


def column_of(cells: Sequence[str]) -> list[Any]:
    """Cells of a column as values of one type."""
    for read in (_truth, _whole, float):
        try:
            return [None if cell == "" else read(cell) for cell in cells]
        except ValueError:
            continue
    return [cell or None for cell in cells]


def _truth(cell: str) -> bool:
    if cell not in ("true", "false"):
        raise ValueError(cell)
    return cell == "true"


def _whole(cell: str) -> int:
    """Only as a table writes it: int() takes spaces and underscores too."""
    number = int(cell)
    if str(number) != cell or not -(1 << 63) <= number < 1 << 63:
        raise ValueError(cell)
    return number
