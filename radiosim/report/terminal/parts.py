"""What the parts of the report are made of."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from rich.console import Console, ConsoleOptions, Group, RenderableType
from rich.segment import Segment
from rich.table import Table
from rich.text import Text

from radiosim.measure.summary import Summary

Cell = str | Text


@dataclass(frozen=True, slots=True, kw_only=True)
class Trimmed:
    """A part without the spaces that fill up its lines."""

    part: RenderableType

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> Iterator[Segment]:
        for line in console.render_lines(self.part, options, pad=False):
            while line and not line[-1].text.strip():
                line.pop()
            yield from line[:-1]
            yield from (Segment(last.text.rstrip(), last.style) for last in line[-1:])
            yield Segment.line()


def block(title: str, *rows: RenderableType) -> Group:
    """A part with its title and an empty line after it."""
    return Group(Text(title, style="bold"), *rows, Text())


def table(columns: Sequence[str], rows: Iterable[Sequence[Cell]]) -> Table:
    """A table without lines. A column's title may have several lines.

    Numbers stand right; the first column, and one whose title starts with a space, are words.
    """
    made = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="dim")
    for number, title in enumerate(columns):
        is_words = number == 0 or title.startswith(" ")
        made.add_column(title.strip(), justify="left" if is_words else "right", overflow="fold")
    for row in rows:
        made.add_row(*row)
    return made


def hanging(rows: Iterable[Sequence[Cell]], widths: Sequence[int | None] = ()) -> Table:
    """Rows whose last cell is prose and wraps under itself."""
    made = Table.grid(padding=(0, 2, 0, 0))
    filled = list(rows)
    for number in range(max((len(row) for row in filled), default=0)):
        width = widths[number] if number < len(widths) else None
        made.add_column(overflow="fold", width=width)
    for row in filled:
        made.add_row(*row)
    return made


def worst(summary: Summary, path: str, otherwise: float | None) -> float | None:
    """The worst start's value of a figure; `otherwise` where one start is all there is."""
    found = summary.worst.get(path)
    return otherwise if found is None else found.value
