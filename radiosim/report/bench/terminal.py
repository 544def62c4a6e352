"""The card in 80 columns: cautions, then steps with their tables and blanks to fill in."""

import textwrap
from collections.abc import Iterator, Sequence

from rich.console import Console
from rich.text import Text

from radiosim.report.bench.columns import BLANK, TICK, TIED, WIDTH, row_lines, widths_of
from radiosim.report.bench.legend import legend, trust_of
from radiosim.report.bench.table import Cell, Group, Table, Trust, reached_text, tables_of
from radiosim.report.terminal.words import printable
from radiosim.study.bench.step import ALIVE_WORD, Card, Chapter, Step

_INDENT = "    "
_LABEL_WIDTH = 16
"""Under longer labels the lines beside them go on."""


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
        yield from _hung("!  ", text, style="bold" if ALIVE_WORD in text else "")
    yield Text()
    yield Text("How to read this card", style="bold")
    for text in legend(card):
        yield from _hung("-  ", text)
    number = 0
    for chapter in card.chapters:
        yield from _chapter(chapter)
        for step in chapter.steps:
            number += 1
            yield from _step(step, number, trust_of(card))
    yield Text()
    yield Text(f"Seed {card.seed}, version {card.version}.")


def _chapter(chapter: Chapter) -> Iterator[Text]:
    yield Text()
    yield Text(f"== {chapter.title} ==", style="bold")
    yield from _hung("", chapter.how)
    reached = reached_text(chapter.steps)
    if reached:
        yield from _hung("", reached)
    if chapter.if_not:
        yield from _hung("If not: ", chapter.if_not, below="")


def _step(step: Step, number: int, trust: Trust) -> Iterator[Text]:
    yield Text()
    head = f"[ ] {number}. {step.title}."
    for place, line in enumerate(_hung(f"{head} ", f"{step.do} {step.measure}", below=_INDENT)):
        if place == 0:
            line.stylize("bold", 0, len(head))
        yield line
    tables = tables_of(step, number, trust)
    widths, gap = widths_of(tables)
    for table in tables:
        yield from _table(table, widths, gap)
    if step.if_not:
        yield from _hung(f"{_INDENT}If not: ", step.if_not, below=_INDENT)


def _hung(head: str, text: str, *, below: str | None = None, style: str = "") -> Iterator[Text]:
    """Prose after a head; its further lines begin with `below`, or under its first."""
    more = " " * len(head) if below is None else below
    for line in textwrap.wrap(
        TIED.join(map(printable, text.split(TIED))),
        WIDTH,
        initial_indent=head,
        subsequent_indent=more,
        break_on_hyphens=False,
    ):
        yield Text(line.replace(TIED, " "), style=style)


def _table(table: Table, widths: Sequence[int], gap: int) -> Iterator[Text]:
    titles = [Cell(text=it, kind="words") for it in table.columns]
    yield from (Text(line, style="dim") for line in row_lines(titles, widths, gap))
    label_width = max(len(group.label) for group in table.groups) + 2
    for group in table.groups:
        yield from _group(group, label_width)
        for row in group.rows:
            style = "bold" if any(cell.kind == "hazard" for cell in row) else ""
            yield from (Text(line, style=style) for line in row_lines(row, widths, gap))
    for note in table.notes:
        yield from _hung(_INDENT, note)


def _group(group: Group, label_width: int) -> Iterator[Text]:
    """The label; beside it a line for each number, and one for all that is to be seen."""
    lines = [f"{said.text}{TIED}{BLANK}" for said in group.said if said.is_number]
    seen = [f"{TICK}{TIED}{said.text}" for said in group.said if not said.is_number]
    if seen:
        lines.append("  ".join(seen))
    head = group.label.ljust(label_width)
    if group.label and not lines:
        yield Text(group.label)
    for line in lines:
        below = " " * min(label_width, _LABEL_WIDTH)
        yield from _hung(head, line, below=below)
        head = below
