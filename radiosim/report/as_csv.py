"""Rows as comma-separated values."""

import csv
import io
from collections.abc import Sequence
from typing import Any

from radiosim.report.flat import Row, columns_of


def csv_text(first: tuple[str, ...], rows: Sequence[Row]) -> str:
    """Rows as comma-separated values; `first`: columns that are always there, and come first."""
    columns = columns_of([dict.fromkeys(first), *rows])
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows([_cell(row.get(column)) for column in columns] for row in rows)
    return stream.getvalue()


def _cell(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    return str(value)
