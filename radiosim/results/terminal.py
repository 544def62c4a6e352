"""A report as lines of text, at any width, with colours or without.

Nothing is cut off: sentences wrap, and what does not fit of a table goes below its row.
"""

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from radiosim.errors import printable
from radiosim.results.document import (
    Figure,
    Report,
    Role,
    Said,
    Section,
    Sentence,
    Table,
    sentences_of,
    shown_tables,
)
from radiosim.results.styled import Line
from radiosim.results.terminal_table import BLANK, TICK, table_lines
from radiosim.results.wrapping import hung, width_of, wrapped

if TYPE_CHECKING:
    from rich.console import Console

STYLES: dict[Role | None, str] = {None: "", "good": "green", "warn": "yellow", "bad": "bold red"}
_MARKS: dict[Role | None, str] = {None: "", "good": "", "warn": "!", "bad": "!"}
_INDENT = "  "
_LEAD_WIDTH = 26
"""Longer leads stand on a line of their own, above their text."""


def print_report(report: Report, console: "Console", *, is_more: bool = False) -> None:
    """Print a report to a console, as wide as it is; `is_more`: with the sections for that."""
    from rich.text import Text  # noqa: PLC0415 - slow to load, and only colours need it

    for line in report_lines(report, console.width, encoding=console.encoding, is_more=is_more):
        line.rstrip()
        text = Text.assemble(*line.parts)
        console.print(text, soft_wrap=True, highlight=False, markup=False, emoji=False)


def plain_text(
    report: Report, width: int = 80, *, encoding: str = "utf-8", is_more: bool = False
) -> str:
    """The report as text without colours."""
    lines = report_lines(report, width, encoding=encoding, is_more=is_more)
    return "".join(f"{line.plain.rstrip()}\n" for line in lines)


def report_lines(
    report: Report, width: int, *, encoding: str = "utf-8", is_more: bool = False
) -> Iterator[Line]:
    """Lines of a report, each at most `width` wide; letters that `encoding` lacks are avoided."""
    yield from _head(report, width)
    for section in report.ordered_sections():
        if section.where != "page" and (is_more or not section.is_more):
            yield from _section(section, width, encoding)
    for caution in report.cautions_last():
        yield from _prose(caution, width)
    if not is_more and any(section.is_more for section in report.sections):
        yield from _prose(_closing(report), width)
    origin = report.origin
    if report.blanks and origin.seed is not None:
        yield from _prose(f"Seed {origin.seed}, version {origin.version}.", width)
    if report.last:
        yield from _prose(report.last, width)


def _closing(report: Report) -> str:
    """What else there is: warnings that may have gone out of sight, and more figures."""
    count = len(report.warnings)
    plural = "warning" if count == 1 else "warnings"
    told = f"{count} {plural} at the top, marked with !. " if count else ""
    return f"{told}More figures: --more."


def _head(report: Report, width: int) -> Iterator[Line]:
    title = printable(report.title)
    done = f": {printable(report.done)}" if report.done else ""
    left = len(title)
    for line in wrapped(title + done, width):
        is_title = max(0, left)
        text = Line(line[:is_title], "bold")
        text.append(line[is_title:])
        left -= len(line) + 1
        yield text
    if report.blanks:
        yield from _prose(_INDENT.join(f"{name} {BLANK}" for name in report.blanks), width)
    for caution in report.cautions_first:
        yield from _prose(caution, width)
    yield Line()
    if report.answers:
        yield from _sentences(report.answers, width)
        yield Line()
    if report.verdict:
        for line in wrapped(printable(report.verdict), width):
            yield Line(line, style="bold")
    yield from _sentences(report.warnings, width)
    if report.verdict or report.warnings:
        yield Line()


def _section(section: Section, width: int, encoding: str) -> Iterator[Line]:
    tables = shown_tables(section)
    figures = _of_letters(section.figures, width, encoding)
    letters = _with_letters(section.letters, width, encoding)
    if not (section.sentences or tables or figures or letters or section.is_step):
        return
    if section.heading:
        head = f"{TICK} " if section.is_step else ""
        for line in hung(head, printable(section.heading), width):
            yield Line(line, style="bold")
    yield from _sentences(section.sentences, width)
    for lines in (letters, *(figure.letters for figure in figures)):
        yield from (Line(printable(line)) for line in lines)
    for number, table in enumerate(tables):
        if number:
            yield Line()
        yield from _table(table, width, encoding)
    yield Line()


def _of_letters(figures: Sequence[Figure], width: int, encoding: str) -> tuple[Figure, ...]:
    """The figures that a terminal can show."""
    return tuple(figure for figure in figures if _with_letters(figure.letters, width, encoding))


def _with_letters(lines: tuple[str, ...], width: int, encoding: str) -> tuple[str, ...]:
    """Lines drawn with letters; none if a terminal is too narrow or lacks any of the letters."""
    text = "".join(lines)
    has_all = text.encode(encoding, "ignore").decode(encoding) == text
    return lines if has_all and max(map(width_of, lines), default=0) <= width else ()


def _table(table: Table, width: int, encoding: str) -> Iterator[Line]:
    if table.caption:
        yield from (Line(line) for line in wrapped(printable(table.caption), width))
    below = {
        heading: tuple(_sentences(said, width - len(_INDENT)))
        for heading, said in table.under.items()
    }
    yield from table_lines(table, width, below=below, styles=STYLES, encoding=encoding)
    for line in wrapped(printable(table.note), width):
        yield Line(line, style="dim")


def _sentences(said: Sequence[Said], width: int) -> Iterator[Line]:
    """Sentences in order; the texts of those with leads begin at one column."""
    sentences = sentences_of(said)
    leads = [width_of(printable(entry.lead)) for entry in sentences if entry.lead]
    most = min(_LEAD_WIDTH, width // 2 - len(_INDENT))
    room = max((lead for lead in leads if lead <= most), default=0)
    for sentence in sentences:
        style = STYLES[sentence.role]
        yield from (Line(line, style=style) for line in _sentence(sentence, room, width))


def _sentence(sentence: Sentence, lead_room: int, width: int) -> Iterator[str]:
    text, lead = printable(sentence.text), printable(sentence.lead)
    head = ""
    if _MARKS[sentence.role]:
        head = f"{_MARKS[sentence.role]} "
    elif sentence.lead or sentence.form in ("item", "code"):
        head = _INDENT
    match sentence.form:
        case "tick":
            head += f"{TICK} "
        case "blank":
            text = f"{text} {BLANK}"
        case "prose" | "item" | "code":
            pass
    if not lead:
        yield from hung(head, text, width)
    elif width_of(lead) > lead_room:
        yield from hung(head, lead, width)
        yield from hung(2 * _INDENT, text, width)
    else:
        filled = lead + " " * (lead_room - width_of(lead))
        yield from hung(f"{head}{filled}{_INDENT}", text, width)


def _prose(text: str, width: int) -> Iterator[Line]:
    yield from (Line(line) for line in wrapped(printable(text), width))
