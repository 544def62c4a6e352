"""The card as JSON and CSV."""

from typing import Any

from radiosim.report.as_csv import csv_text
from radiosim.study.bench.step import Card, labelled


def card_json(card: Card) -> Card:
    """Everything, as the card has it; an end that is not known is null."""
    return card


def card_csv(card: Card) -> dict[str, str]:
    """File name → text: one row a prediction, with an empty column for what was measured."""
    rows: list[dict[str, Any]] = [
        {
            "number": label,
            "step": step.key,
            "turn": turn.key,
            "title": step.title,
            "of": it.of or turn.title,
            "what": it.what,
            "low": it.low,
            "high": it.high,
            "unit": it.unit,
            "resolution": it.resolution or None,
            "source": it.source,
            "tries": it.tries,
            "share": it.share,
            "reached": it.reached,
            "text": it.text,
            "measured": None,
        }
        for label, step, turn in labelled(card.steps)
        for it in turn.predicted
    ]
    columns = ("number", "step", "turn", "of", "what", "low", "high")
    return {"steps.csv": csv_text(columns, rows)}
