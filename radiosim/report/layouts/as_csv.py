"""Layouts as comma-separated values: the rows of their JSON, one file a table."""

import dataclasses
from typing import Any

from radiosim.layout.traps import Trap
from radiosim.report.as_csv import csv_text
from radiosim.report.flat import Row, flat
from radiosim.study.layout_change import LayoutChange

Document = dict[str, Any]


def layout_csv(document: Document) -> dict[str, str]:
    """File name → text: the fields of one layout."""
    rows = [
        {key: value for key, value in field.items() if key != "servos"}
        for field in document["fields"]
    ]
    servos = [
        {"field": field["name"], **view} for field in document["fields"] for view in field["servos"]
    ]
    return {
        "fields.csv": csv_text(("name", "type", "offset_bits", "size_bits"), rows),
        "servos.csv": csv_text(("field", "output", "step_us", "step_deg"), servos),
    }


def traps_csv(documents: list[tuple[str, tuple[Trap, ...]]]) -> dict[str, str]:
    """File name → text: the traps of some layouts, each with its label."""
    rows = [
        {"layout": label, **dataclasses.asdict(trap)}
        for label, traps in documents
        for trap in traps
    ]
    return {"traps.csv": csv_text(("layout", "field", "trap", "severity", "cure"), rows)}


def comparison_csv(document: Document, change: LayoutChange | None) -> dict[str, str]:
    """File name → text: verdicts, what each field reads, and what changes in a scenario."""
    verdicts, fields = [], []
    for direction, both in document["directions"].items():
        for length, outcome in both["by_length"].items():
            place = {"direction": direction, "length": length}
            verdicts.append({**place, "verdict": outcome["verdict"], "why": outcome["why"]})
            fields += [
                {**place, **_without_worst(field), **(field["worst"] or {})}
                for field in outcome["fields"]
            ]
    changes: list[Row] = []
    if change is not None:
        changes = [{"figure": path, **flat(it)} for path, it in change.change.items()]
    return {
        "verdicts.csv": csv_text(("direction", "length", "verdict", "why"), verdicts),
        "readings.csv": csv_text(("direction", "length", "name", "verdict"), fields),
        "change.csv": csv_text(("figure", "old", "new", "difference"), changes),
    }


def _without_worst(field: Document) -> Row:
    return {key: value for key, value in field.items() if key != "worst"}
