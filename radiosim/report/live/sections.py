"""Sections of a report as JSON: a page draws them as they are."""

from collections.abc import Iterable
from typing import Any

from radiosim.results.document import Section, Table, cell_of, sentences_of, shown_tables


def sections_as_json(sections: Iterable[Section]) -> list[dict[str, Any]]:
    """What screens show of some sections, figures left out, and those with nothing else too."""
    return [
        {
            "heading": section.heading,
            "sentences": [
                {"text": said.text, "lead": said.lead, "role": said.role, "form": said.form}
                for said in sentences_of(section.sentences)
            ],
            "tables": [_table(table) for table in shown_tables(section)],
        }
        for section in sections
        if section.where != "terminal" and (section.sentences or shown_tables(section))
    ]


def _table(table: Table) -> dict[str, Any]:
    return {
        "key": table.key,
        "caption": table.caption,
        "columns": [
            {"title": table.columns[k].heading, "is_text": table.columns[k].is_text}
            for k in table.on_screen
        ],
        "rows": [
            [
                {"text": cell.text, "role": cell.role}
                for cell in (cell_of(table.columns[k], row[k]) for k in table.on_screen)
            ]
            for row in table.rows
        ],
        "note": table.note,
    }
