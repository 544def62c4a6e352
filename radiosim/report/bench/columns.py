"""Rows of a table as lines of text: a cell may span columns, and goes on below if too long."""

import textwrap
from collections.abc import Iterator, Sequence

from radiosim.report.bench.table import Cell, Table

WIDTH = 80
BLANK = "________"
TIED = "\N{NO-BREAK SPACE}"
"""A space at which no line ends."""
TICK = f"[{TIED}]"
_INDENT = "  "
_NAME_WIDTH = 16
"""What longer names are folded to where a table would be too wide."""


def widths_of(tables: Sequence[Table]) -> tuple[list[int], int]:
    """Widths of the columns and of the gap between them, to fit a line if that can be.

    The same for all tables of a step, which have as many columns.
    """
    rows = [row for table in tables for group in table.groups for row in group.rows]
    titles = [title for table in tables for title in enumerate(table.columns)]
    body, words, whole = ([0] * len(tables[0].columns) for _ in range(3))
    for place, cell in (it for row in rows for it in _placed(row)):
        if cell.span == 1:
            body[place] = max(body[place], _least(cell))
    for place, title in titles:
        words[place] = max(words[place], *map(len, title.split()), 0)
        whole[place] = max(whole[place], len(title), body[place])
    folded = [max(*pair) for pair in zip(body, words, strict=True)]
    narrow = [min(folded[0], _NAME_WIDTH), *folded[1:]]
    for widths in (whole, folded, narrow):
        for gap in (2, 1):
            if _taken(widths, gap) <= WIDTH:
                return _widened(widths, gap, rows), gap
    return narrow, 1


def _widened(widths: list[int], gap: int, rows: Sequence[Sequence[Cell]]) -> list[int]:
    """What is left of a line goes to texts over several columns, into their last; then to names."""
    wide = list(widths)
    placed = [it for row in rows for it in _placed(row) if it[1].span > 1 or it[1].kind == "name"]
    for place, cell in sorted(placed, key=lambda it: it[1].kind == "name"):
        lacking = len(_text(cell, 0)) - _spanned(wide, place, cell.span, gap)
        wide[place + cell.span - 1] += max(0, min(lacking, WIDTH - _taken(wide, gap)))
    return wide


def row_lines(cells: Sequence[Cell], widths: Sequence[int], gap: int) -> Iterator[str]:
    """The lines of one row."""
    columns = []
    for place, cell in _placed(cells):
        width = _spanned(widths, place, cell.span, gap)
        columns.append((textwrap.wrap(_text(cell, width), width) if width else [], width))
    for row in range(max(len(lines) for lines, _ in columns)):
        texts = ((lines[row] if row < len(lines) else "").ljust(width) for lines, width in columns)
        yield (_INDENT + (" " * gap).join(texts)).replace(TIED, " ").rstrip()


def _placed(cells: Sequence[Cell]) -> Iterator[tuple[int, Cell]]:
    """Each cell with the number of its first column."""
    place = 0
    for cell in cells:
        yield place, cell
        place += cell.span


def _taken(widths: Sequence[int], gap: int) -> int:
    return len(_INDENT) + sum(widths) + gap * (len(widths) - 1)


def _spanned(widths: Sequence[int], place: int, span: int, gap: int) -> int:
    return sum(widths[place : place + span]) + gap * (span - 1)


def _least(cell: Cell) -> int:
    """What a cell needs: names that stand together may stand below each other."""
    text = _text(cell, 0)
    return (
        max(map(len, text.replace(", ", ",\n").split("\n"))) if cell.kind == "name" else len(text)
    )


def _text(cell: Cell, width: int) -> str:
    match cell.kind:
        case "blank":
            return BLANK[:1] * max(len(BLANK), width)
        case "seen":
            return f"{TICK}{TIED}{cell.text}"
        case "hazard":
            return f"{TICK}{TIED}!{TIED}{cell.text}"
        case _:
            return cell.text
