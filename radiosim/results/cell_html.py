"""A report as a piece of HTML for notebooks, which have a style of their own."""

from collections.abc import Iterator, Sequence
from html import escape

from radiosim.results.document import Report, Row, Said, Table, cell_of, sentences_of, shown_tables


def notebook_html(report: Report) -> str:
    """What a first screen says, without pictures; every text is escaped."""
    return "".join(_parts(report))


def _parts(report: Report) -> Iterator[str]:
    yield f"<p><b>{escape(report.title)}</b>: {escape(report.done)}</p>"
    if report.verdict:
        yield f"<p>{escape(report.verdict)}</p>"
    yield _list(report.answers)
    yield _list(report.warnings)
    for section in report.ordered_sections():
        tables = shown_tables(section)
        if section.where == "everywhere" and not section.is_more and (section.sentences or tables):
            yield f"<p><b>{escape(section.heading)}</b></p>" if section.heading else ""
            yield _list(section.sentences)
            yield from map(_table, tables)
    for caution in (*report.cautions_first, *report.cautions_last()):
        yield f"<p>{escape(caution)}</p>"


def _list(said: Sequence[Said]) -> str:
    items = "".join(
        f"<li>{escape(f'{sentence.lead}: ' if sentence.lead else '')}{escape(sentence.text)}</li>"
        for sentence in sentences_of(said)
    )
    return f"<ul>{items}</ul>" if items else ""


def _table(table: Table) -> str:
    columns = [table.columns[place] for place in table.on_screen]
    head = "".join(f'<th scope="col">{escape(column.heading)}</th>' for column in columns)
    rows = "".join(
        "<tr>"
        + "".join(f"<td>{_cell(table, row, place)}</td>" for place in table.on_screen)
        + "</tr>"
        for row in table.rows
    )
    caption = f"<caption>{escape(table.caption)}</caption>" if table.caption else ""
    note = f"<p>{escape(table.note)}</p>" if table.note else ""
    return f"<table>{caption}<thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>{note}"


def _cell(table: Table, row: Row, place: int) -> str:
    cell = cell_of(table.columns[place], row[place])
    return escape(f"! {cell.text}" if cell.is_marked else cell.text)
