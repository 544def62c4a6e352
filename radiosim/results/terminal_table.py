"""A table as lines of text; columns that do not fit go below their row, by priority."""

from collections.abc import Iterator, Mapping, Sequence

import msgspec

from radiosim.errors import printable
from radiosim.results.document import Cell, Role, Row, Table, cell_of, staying_order
from radiosim.results.formats import NOTHING
from radiosim.results.styled import Line
from radiosim.results.wrapping import TIED, fold_width, hung, width_of, wrapped

BLANK = "________"
TICK = "[\N{NO-BREAK SPACE}]"
_INDENT, _BELOW = "  ", "    "
_GAP = 2
_MOST_LINES = 3
"""Of a heading."""
_LEAST_NAME, _LEAST_TEXT = (16, 24), (24, 40)
"""Columns that a name, and another text, keep before a column has to leave, and keep at most so
that no word is broken."""


class _Slot(msgspec.Struct, frozen=True, kw_only=True):
    """What stands one below the other: the cells of a column, or the blanks beside them."""

    place: int
    """Of the column in its table."""
    heading: str
    cells: tuple[Cell, ...]
    is_text: bool
    most: int | None
    is_first: bool

    def body(self) -> int:
        """Columns that the widest cell takes."""
        widest = max((width_of(cell.text) for cell in self.cells), default=0)
        return widest if self.most is None else min(widest, self.most)

    def least(self) -> int:
        """Columns that it needs."""
        if not self.is_text:
            return self.body()
        words = (width_of(word) for cell in self.cells for word in cell.text.split(" "))
        least, most = _LEAST_NAME if self.is_first else _LEAST_TEXT
        return min(self.body(), max(least, min(most, max(words, default=0))))


def table_lines(
    table: Table,
    width: int,
    *,
    below: Mapping[str, Sequence[Line]],
    styles: Mapping[Role | None, str],
    encoding: str = "utf-8",
) -> Iterator[Line]:
    """Lines of a table; `below`: lines under the heading of a group, by its heading."""
    indent = _INDENT if table.group_by else ""
    slots = _slots(table)
    widths = _fitted(table, slots, max(1, width - len(indent)))
    shown = [slot for slot in slots if slot.place in widths]
    sizes = [size for place in widths for size in widths[place]]
    heads = [Cell(text=slot.heading) for slot in shown]
    if any(slot.heading for slot in shown):
        yield from _row(indent, heads, shown, sizes, dict.fromkeys(styles, "dim"), is_head=True)
    left = [place for place in table.on_screen if place not in widths]
    separator = f"{TIED}\N{MIDDLE DOT} " if _has(encoding) else "; "
    number = 0
    for heading, rows in table.groups():
        if heading:
            yield from (Line(line, style="bold") for line in wrapped(printable(heading), width))
        for text in below.get(heading, ()):
            line = Line(indent)
            line.parts += text.parts
            yield line
        for row in rows:
            cells = [slot.cells[number] for slot in shown]
            yield from _row(indent, cells, shown, sizes, styles)
            yield from _left_over(table, row, left, separator, width)
            number += 1


def _has(encoding: str) -> bool:
    return bool("\N{MIDDLE DOT}".encode(encoding, "ignore"))


def _slots(table: Table) -> list[_Slot]:
    rows = [row for _, rows in table.groups() for row in rows]
    slots = []
    for place in table.on_screen:
        column = table.columns[place]
        is_first = place == table.on_screen[0]
        cells = tuple(_terminal_cell(cell_of(column, row[place])) for row in rows)
        slots.append(
            _Slot(
                place=place,
                heading=printable(column.heading),
                cells=cells,
                is_text=column.is_text or is_first,
                most=column.width,
                is_first=is_first,
            )
        )
        if column.blank:
            blanks = tuple(Cell(text="" if row[place] is None else BLANK) for row in rows)
            slots.append(
                _Slot(
                    place=place,
                    heading=printable(column.blank),
                    cells=blanks,
                    is_text=False,
                    most=None,
                    is_first=False,
                )
            )
    return slots


def _terminal_cell(cell: Cell) -> Cell:
    """A cell with its mark and its box as letters."""
    mark = "!\N{NO-BREAK SPACE}" if cell.is_marked else ""
    tick = f"{TICK}\N{NO-BREAK SPACE}" if cell.has_tick else ""
    return Cell(text=f"{tick}{mark}{printable(cell.text)}", role=cell.role)


def _fitted(table: Table, slots: Sequence[_Slot], room: int) -> dict[int, tuple[int, ...]]:
    """Widths of the slots of each column that stays, in order of places."""
    staying = list(staying_order(table))
    while True:
        kept = [slot for slot in slots if slot.place in staying]
        widths = _widths(kept, room)
        if widths is not None or len(staying) <= 1:
            made: dict[int, tuple[int, ...]] = {}
            for slot, size in zip(kept, widths or _forced(kept, room), strict=True):
                made[slot.place] = (*made.get(slot.place, ()), size)
            return made
        staying.pop()


def _widths(slots: Sequence[_Slot], room: int) -> list[int] | None:
    """Widths at which all fit, with headings of as few lines as can be; None if they do not."""
    available = room - _GAP * (len(slots) - 1)
    for lines in range(1, _MOST_LINES + 1):
        heads = [fold_width(slot.heading, lines) for slot in slots]
        whole = [max(slot.body(), head) for slot, head in zip(slots, heads, strict=True)]
        if sum(whole) <= available:
            return whole
    least = [max(slot.least(), head) for slot, head in zip(slots, heads, strict=True)]
    if sum(least) > available:
        return None
    return _shrunk(whole, least, available)


def _shrunk(whole: Sequence[int], least: Sequence[int], available: int) -> list[int]:
    """Widths made smaller, the widest first, until their sum is what is available."""
    widths = list(whole)
    while sum(widths) > available:
        free = [k for k, width in enumerate(widths) if width > least[k]]
        widest = max(free, key=lambda k: widths[k])
        widths[widest] -= 1
    return widths


def _forced(slots: Sequence[_Slot], room: int) -> list[int]:
    """Widths where not even the first column fits: its texts are broken."""
    return [max(2, min(slot.body(), room // len(slots))) for slot in slots]


def _row(
    indent: str,
    cells: Sequence[Cell],
    slots: Sequence[_Slot],
    sizes: Sequence[int],
    styles: Mapping[Role | None, str],
    *,
    is_head: bool = False,
) -> Iterator[Line]:
    """Lines of one row; headings stand at the foot of theirs."""
    columns = [wrapped(cell.text, size) for cell, size in zip(cells, sizes, strict=True)]
    height = max(map(len, columns), default=0)
    for number in range(height):
        line = Line(indent)
        for k, (lines, size) in enumerate(zip(columns, sizes, strict=True)):
            at = number - (height - len(lines) if is_head else 0)
            text = lines[at] if 0 <= at < len(lines) else ""
            padding = " " * (size - width_of(text))
            line.append(padding if not slots[k].is_text else "")
            line.append(text, style=styles[cells[k].role])
            line.append(padding if slots[k].is_text else "")
            line.append(" " * _GAP)
        line.rstrip()
        yield line


def _left_over(
    table: Table, row: Row, places: Sequence[int], separator: str, width: int
) -> Iterator[Line]:
    """What did not fit, below its row: title, value and unit of each."""
    parts = []
    for place in places:
        column = table.columns[place]
        cell = _terminal_cell(cell_of(column, row[place]))
        if row[place] is None and column.nothing in ("", NOTHING):
            continue
        unit = "" if row[place] is None else column.unit
        words = [printable(column.title), cell.text, printable(unit)]
        words += [printable(column.blank), BLANK] if column.blank and row[place] is not None else []
        part = " ".join(word for word in words if word)
        # What belongs together stays on one line, if it fits there.
        is_short = width_of(part) + len(_BELOW) + len(separator) <= width
        parts.append(part.replace(" ", TIED) if is_short else part)
    if parts:
        yield from (Line(line) for line in hung(_BELOW, separator.join(parts), width))
