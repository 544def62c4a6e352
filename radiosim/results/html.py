"""A report as a page of one file, for light screens, dark ones, phones and paper.

Every row stands in the page twice: side by side as far as there is room, the rest below it. A
style sheet chooses by the width of the table's place; what it does not show is hidden to screen
readers too.
"""

import json
import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib import resources
from itertools import groupby
from typing import Any

from jinja2 import Environment, FunctionLoader, StrictUndefined
from markupsafe import Markup

from radiosim.results.document import (
    Cell,
    Report,
    Row,
    Said,
    Section,
    Sentence,
    Table,
    cell_of,
    sentences_of,
    shown_tables,
    staying_order,
)
from radiosim.results.formats import NOTHING
from radiosim.results.wrapping import fold_width, width_of

_EM_PER_LETTER, _EM_PER_BOLD_LETTER = 0.64, 0.7
"""Of the widest fonts that pages use."""
_PADDING_EM = 0.9
_BLANK_EM = 7.0
_PAPER_EM = 58
"""A4 leaves so much; a place whose width is asked for would not be split between sheets."""
_ALWAYS_EM = 20
"""A phone of 320 px leaves so much."""
_LEAST_NAME, _LEAST_TEXT = 20, 22
"""Letters of a line of text that a column keeps before it has to leave."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PageCell:
    """A cell with what it takes to show it, beside others or below them."""

    cell: Cell
    title: str
    unit: str
    blank: str
    """Title of the blank beside it; empty: there is none."""
    is_text: bool
    is_long: bool
    """Whether a word of it may have to be broken."""
    step: int
    """Width from which it stands beside the others, em; 0: always."""
    is_nothing: bool
    """Whether it need not be said below its row."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PageColumn:
    """A column's heading."""

    heading: str
    blank: str
    is_text: bool
    is_long: bool
    step: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PageGroup:
    """Rows with what stands above them."""

    heading: str
    under: tuple[Said, ...]
    rows: tuple[tuple[PageCell, ...], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PageTable:
    """A table as a page has it."""

    table: Table
    columns: tuple[PageColumn, ...]
    groups: tuple[PageGroup, ...]
    span: int
    """How many cells a row has, blanks included."""
    step: int
    """Width from which no column is below its row, em."""


def page_table(table: Table) -> PageTable:
    """A table with the widths from which its columns stand side by side."""
    steps = _steps(table)
    shown = [(table.columns[place], steps[place]) for place in table.on_screen]
    columns = tuple(
        PageColumn(
            heading=column.heading,
            blank=column.blank,
            is_text=column.is_text or number == 0,
            is_long=False,
            step=step,
        )
        for number, (column, step) in enumerate(shown)
    )
    return PageTable(
        table=table,
        columns=columns,
        groups=tuple(
            PageGroup(
                heading=heading,
                under=tuple(table.under.get(heading, ())),
                rows=tuple(_cells(table, row, steps) for row in rows),
            )
            for heading, rows in table.groups()
        ),
        span=len(columns) + sum(bool(column.blank) for column in columns),
        step=max(steps.values()),
    )


def _cells(table: Table, row: Row, steps: dict[int, int]) -> tuple[PageCell, ...]:
    return tuple(_cell(table, place, row[place], steps[place]) for place in table.on_screen)


def _cell(table: Table, place: int, value: Any, step: int) -> PageCell:
    column = table.columns[place]
    cell = cell_of(column, value)
    return PageCell(
        cell=cell,
        title=column.title,
        unit="" if value is None else column.unit,
        blank="" if value is None else column.blank,
        is_text=column.is_text,
        is_long=max(map(width_of, cell.text.split(" "))) > _LEAST_NAME,
        step=step,
        is_nothing=not cell.text or (value is None and column.nothing in ("", NOTHING)),
    )


def _steps(table: Table) -> dict[int, int]:
    """Place of each column → width from which it stands beside the others, em; 0: always."""
    steps = {}
    taken_em = 0.0
    for place in staying_order(table):
        taken_em += _needed_em(table, place)
        is_first = place == table.on_screen[0]
        steps[place] = 0 if is_first or taken_em <= _ALWAYS_EM else math.ceil(taken_em)
    return steps


def _needed_em(table: Table, place: int) -> float:
    """Room that a column needs."""
    column = table.columns[place]
    cells = [cell_of(column, row[place]) for row in table.rows]
    letters = max(
        (width_of(cell.text) + 2 * cell.is_marked + 2 * cell.has_tick for cell in cells), default=0
    )
    is_first = place == table.on_screen[0]
    if column.is_text or is_first:
        letters = min(letters, _LEAST_NAME if is_first else _LEAST_TEXT)
    heading_em = _EM_PER_BOLD_LETTER * fold_width(column.heading, 3)
    blank_em = 0.0
    if column.blank:
        blank_em = _PADDING_EM + max(_BLANK_EM, _EM_PER_BOLD_LETTER * width_of(column.blank))
    return max(_EM_PER_LETTER * letters, heading_em) + _PADDING_EM + blank_em


def steps_of(tables: Iterable[PageTable]) -> Sequence[int]:
    """Every width at which a column of any table moves, in order."""
    return sorted({column.step for table in tables for column in table.columns} - {0})


def widening_css(steps: Sequence[int]) -> str:
    """Rules by which columns stand side by side from their widths on, and not below as well."""
    return "\n".join(_rules(steps))


def _rules(steps: Sequence[int]) -> Iterator[str]:
    for step in steps:
        rules = f".from-{step} {{ display: table-cell; }} .until-{step} {{ display: none; }}"
        yield f"@container table (min-width: {step}em) {{ {rules} }}"
        if step <= _PAPER_EM:
            yield f"@media print {{ {rules} }}"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Run:
    """Sentences of one form that follow each other."""

    form: str
    sentences: tuple[Sentence, ...]


def page_html(report: Report) -> str:
    """The page in one file, all texts escaped; draws its figures."""
    sections = [section for section in report.ordered_sections() if section.where != "terminal"]
    tables = {
        table.key: page_table(table) for section in sections for table in shown_tables(section)
    }
    changes = [section for section in sections if section.role == "change"]
    style = palette() + _file("page.css") + widening_css(steps_of(tables.values()))
    return (
        _environment()
        .get_template("page.html.j2")
        .render(
            report=report,
            origin=report.origin,
            changes=changes,
            sections=[section for section in sections if section.role != "change"],
            cautions=(*report.cautions_first, *report.cautions_last()),
            tables=tables,
            style=Markup(style),
        )
    )


def palette() -> str:
    """The colours that pages and figures name, for light screens, dark ones and paper, as CSS."""
    return _file("palette.css")


@cache
def _environment() -> Environment:
    environment = Environment(
        autoescape=True,
        loader=FunctionLoader(_file),
        trim_blocks=True,
        lstrip_blocks=True,
        undefined=StrictUndefined,
    )
    environment.filters["as_data"] = _as_data
    environment.filters["as_picture"] = Markup
    environment.filters["runs"] = _runs
    environment.filters["shown_tables"] = shown_tables
    environment.tests["empty"] = _is_empty
    return environment


@cache
def _file(name: str) -> str:
    return (resources.files("radiosim.results") / name).read_text(encoding="utf-8")


def _is_empty(section: Section) -> bool:
    """Whether a page has nothing to show of a section."""
    return not (section.sentences or section.figures or shown_tables(section) or section.is_step)


def _runs(said: Sequence[Said]) -> Iterator[_Run]:
    """Sentences that follow each other as one list, where a list is what they are."""
    for form, run in groupby(sentences_of(said), key=_form):
        sentences = tuple(run)
        if form == "prose":
            yield from (_Run(form=form, sentences=(sentence,)) for sentence in sentences)
        else:
            yield _Run(form=form, sentences=sentences)


def _form(sentence: Sentence) -> str:
    if sentence.form in ("prose", "item") and sentence.lead:
        return "lead"
    if sentence.form == "prose" and sentence.role in ("warn", "bad"):
        return "item"
    return sentence.form


def _as_data(data: Mapping[str, Any]) -> Markup:
    """JSON that can neither end its element nor open another."""
    text = json.dumps(data, separators=(",", ":"), allow_nan=False)
    for letter in "<>&":
        text = text.replace(letter, f"\\u{ord(letter):04x}")
    return Markup(text)
