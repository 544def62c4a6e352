"""A control recorded in a table of times and values."""

import csv
import io
import math
from collections.abc import Iterator, Sequence
from typing import Annotated

import msgspec
from msgspec import Meta

from radiosim.described import key
from radiosim.edges import LONGEST_S, MOST
from radiosim.marks import rule
from radiosim.number_kinds import Value
from radiosim.signals.course import TABLE, Course, EveryMs, Points, Span

MOST_ROWS = 100_000
"""Rows of a table: half an hour at 50 a second, and a bound on what a scenario can make us hold."""

_AtS = Annotated[float, Meta(ge=-LONGEST_S, le=LONGEST_S)]
Rows = tuple[tuple[_AtS, Value], ...]
"""Instants in seconds, going up, each with a value."""


@rule
def between(before_s: float, before: float, after_s: float, after: float, seconds: float) -> float:
    """Value on the straight line between two rows."""
    share = (seconds - before_s) / (after_s - before_s)
    value = before * (1 - share) + after * share
    return min(max(value, min(before, after)), max(before, after))


@rule
def table_at(n: Sequence[float], points: Points, first: int, count: int, seconds: float) -> float:
    """The value at an instant; n: 1 if it begins again; the rows are points from `first` on."""
    low, high = first, first + count - 1
    first_s, last_s = points[low][0], points[high][0]
    if seconds <= first_s or count == 1:
        return float(points[low][1])
    if n[0] == 1:
        seconds = first_s + (seconds - first_s) % (last_s - first_s)
    elif seconds >= last_s:
        return float(points[high][1])
    while high - low > 1:
        middle = (low + high) // 2
        if points[middle][0] <= seconds:
            low = middle
        else:
            high = middle
    return between(points[low][0], points[low][1], points[high][0], points[high][1], seconds)


class Csv(
    msgspec.Struct,
    frozen=True,
    kw_only=True,
    forbid_unknown_fields=True,
    tag_field="kind",
    tag="csv",
):
    """Straight lines between the rows of a table; its first and last value held outside it."""

    file: Annotated[
        str,
        key(
            "table with a header row and a column t_s, in the scenario's folder",
            moves=("stream.duplicates", "output.servo_error_deg"),
            measure="log time and value on the serial port while driving",
        ),
    ]
    column: Annotated[
        str,
        key(
            "column that holds the values, in the field's own unit",
            moves=("output.servo_error_deg",),
            measure="the header of that table",
        ),
    ] = "value"
    loop: Annotated[
        bool,
        key(
            "true: begins again at its first row when the last is reached",
            moves=("output.servo_error_deg",),
            measure="choose it: nothing to measure",
        ),
    ] = False
    points: Annotated[
        Rows,
        key(
            "the rows as (seconds, value); filled in when the file is read",
            "s, the field's own",
            moves=("output.servo_error_deg",),
            measure="leave it out",
        ),
    ] = ()
    every_ms: EveryMs = 0.0

    def value_at(self, seconds: float, frame: int, span: Span) -> float:
        """The value at an instant from the start of the scenario; ValueError before it is read."""
        course = self.course(span)
        return table_at(course.numbers, course.points, 0, len(course.points), seconds)

    def course(self, span: Span) -> Course:
        """The signal in plain numbers; ValueError before its table is read."""
        return Course(TABLE, (int(self.loop),), self._read())

    def extremes(self, span: Span) -> tuple[float, float]:
        """Lowest and highest value it takes; ValueError before it is read."""
        values = [value for _, value in self._read()]
        return min(values), max(values)

    def _read(self) -> Rows:
        if not self.points:
            raise ValueError(f"table '{self.file}' must be read before it has values")
        return self.points


def read_points(text: str, column: str) -> Rows:
    """Rows of a table as (seconds, value), from its columns `t_s` and `column`.

    Raises ValueError, naming row and column, for a column that is not there, a cell that is not a
    finite number, times that do not go up, no rows, or more than 100,000.
    """
    rows = _rows(text)
    _, header = next(rows, (1, []))
    names = [name.strip() for name in header]
    time_at, value_at = _column(names, "t_s"), _column(names, column)
    points: list[tuple[float, float]] = []
    for row, cells in rows:
        if len(points) == MOST_ROWS:
            raise ValueError(f"row {row}: must be at most {MOST_ROWS:,} rows, got more")
        seconds = _number(cells, time_at, f"row {row}, column 't_s'", LONGEST_S)
        if points and seconds <= points[-1][0]:
            raise ValueError(
                f"row {row}, column 't_s': must be > {points[-1][0]:g} (the row before), "
                f"got {seconds:g}"
            )
        points.append((seconds, _number(cells, value_at, f"row {row}, column '{column}'", MOST)))
    if not points:
        raise ValueError("must have at least one row below its header, got none")
    return tuple(points)


def _rows(text: str) -> Iterator[tuple[int, list[str]]]:
    """Each row that is not blank, with its line in the file."""
    # Spreadsheets put a byte order mark in front of the first name.
    reader = csv.reader(io.StringIO(text.removeprefix("\ufeff"), newline=""))
    try:
        for cells in reader:
            if cells:
                yield reader.line_num, cells
    except csv.Error as error:
        raise ValueError(
            f"row {reader.line_num}: must be values with commas between: {error}"
        ) from None


def _column(names: list[str], wanted: str) -> int:
    """Position of a column in the header."""
    if names.count(wanted) == 1:
        return names.index(wanted)
    if wanted in names:
        raise ValueError(f"row 1: must have one column '{wanted}', got {names.count(wanted)}")
    found = ", ".join(f"'{name}'" for name in names) or "an empty file"
    raise ValueError(f"row 1: must have a column '{wanted}', got {found}")


def _number(cells: list[str], column: int, place: str, most: float) -> float:
    """A cell as a number, of no more than `most` in size."""
    if column >= len(cells):
        raise ValueError(f"{place}: must be a finite number, got no cell")
    try:
        number = float(cells[column])
    except ValueError:
        number = math.nan
    if not math.isfinite(number):
        raise ValueError(f"{place}: must be a finite number, got '{cells[column]}'")
    if abs(number) > most:
        raise ValueError(f"{place}: must be within {most:g}, got {number:g}")
    return number
