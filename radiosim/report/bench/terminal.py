"""The card in 80 columns: cautions, then steps with their tables and blanks to fill in."""

import textwrap
from collections.abc import Iterator, Sequence

from rich.console import Console
from rich.text import Text

from radiosim.report.bench.legend import legend, trust_of
from radiosim.report.bench.table import Cell, Group, Said, Table, Trust, tables_of
from radiosim.report.terminal.words import printable
from radiosim.study.bench.step import Card, Chapter, Step

WIDTH = 80
BLANK = "________"
TICK = "[ ]"
_INDENT = "    "
_NAME_WIDTH = 16
"""Longer names are folded."""


def print_card(card: Card, console: Console) -> None:
    """Print it; cautions first."""
    for line in _lines(card):
        console.print(line, soft_wrap=True)


def _lines(card: Card) -> Iterator[Text]:
    yield Text(f"Bench card: {printable(card.title)}", style="bold")
    yield Text("Date ____________  Units ______________________________")
    yield Text()
    yield Text("Before anything is switched on", style="bold")
    for text in card.cautions:
        yield from _hung("!  ", text, "bold" if "ALIVE" in text else "")
    yield Text()
    yield Text("How to read this card", style="bold")
    for name, text in legend(card):
        yield from _hung(f"{name:<4}", text)
    number = 0
    for chapter in card.chapters:
        yield from _chapter(chapter)
        for step in chapter.steps:
            number += 1
            yield from _step(step, number, trust_of(card))
    yield Text()
    yield from _hung("", f"Seed {card.seed}, version {card.version}.")


def _chapter(chapter: Chapter) -> Iterator[Text]:
    yield Text()
    yield Text(f"== {chapter.title} ==", style="bold")
    yield from _hung("", chapter.how)
    if chapter.if_not:
        yield from _hung("", f"If not: {chapter.if_not}")


def _step(step: Step, number: int, trust: Trust) -> Iterator[Text]:
    yield Text()
    yield Text(f"{TICK} {number}. {step.title}", style="bold")
    yield from _hung(_INDENT, f"{step.do} {step.measure}")
    for table in tables_of(step, number, trust):
        yield from _table(table)
    if step.if_not:
        yield from _hung(_INDENT, f"If not: {step.if_not}")


def _hung(head: str, text: str, style: str = "") -> Iterator[Text]:
    """Prose that wraps under itself."""
    lines = textwrap.wrap(printable(text), WIDTH - len(head), break_on_hyphens=False)
    for place, line in enumerate(lines):
        yield Text((" " * len(head) if place else head) + line, style=style)


def _table(table: Table) -> Iterator[Text]:
    widths, gap = _widths(table)
    for line in _cells([Cell(text=it, kind="words") for it in table.columns], widths, gap):
        yield Text(line, style="dim")
    label_width = max(len(group.label) for group in table.groups) + 2
    for group in table.groups:
        yield from _group(group, label_width)
        for row in group.rows:
            style = "bold" if any(cell.kind == "hazard" for cell in row) else ""
            for line in _cells(row, widths, gap):
                yield Text(line, style=style)
    for note in table.notes:
        yield from _hung(_INDENT, note)


def _group(group: Group, label_width: int) -> Iterator[Text]:
    head = group.label.ljust(label_width)
    if group.label and not group.said:
        yield Text(group.label)
    for said in group.said:
        yield from _hung(
            f"{head}{_mark(said)} ", _with_blank(said), "bold" if said.is_hazard else ""
        )
        head = " " * label_width


def _mark(said: Said) -> str:
    if said.is_number:
        return "   "
    return f"! {TICK}" if said.is_hazard else TICK


def _with_blank(said: Said) -> str:
    return f"{said.text} {BLANK}" if said.is_number else said.text


def _widths(table: Table) -> tuple[list[int], int]:
    """Widths of the columns and of the gap between them, to fit a line if that can be."""
    rows = [row for group in table.groups for row in group.rows]
    body = [0] * len(table.columns)
    for row in rows:
        place = 0
        for cell in row:
            if cell.span == 1:
                body[place] = max(body[place], len(_text(cell)))
            place += cell.span
    body[0] = min(body[0], _NAME_WIDTH)
    words = [max(map(len, title.split()), default=0) for title in table.columns]
    whole = [max(*pair) for pair in zip(body, map(len, table.columns), strict=True)]
    folded = [max(*pair) for pair in zip(body, words, strict=True)]
    for widths in (whole, folded):
        for gap in (2, 1):
            if 2 + sum(widths) + gap * (len(widths) - 1) <= WIDTH:
                return widths, gap
    return folded, 1


def _text(cell: Cell) -> str:
    return BLANK if cell.kind == "blank" else cell.text


def _cells(cells: Sequence[Cell], widths: Sequence[int], gap: int) -> Iterator[str]:
    """Lines of one row; what is too long for its place goes on below."""
    columns, place = [], 0
    for cell in cells:
        width = sum(widths[place : place + cell.span]) + gap * (cell.span - 1)
        columns.append((textwrap.wrap(_text(cell), width) if width else [], width))
        place += cell.span
    for row in range(max(len(lines) for lines, _ in columns)):
        texts = ((lines[row] if row < len(lines) else "").ljust(width) for lines, width in columns)
        yield ("  " + (" " * gap).join(texts)).rstrip()
