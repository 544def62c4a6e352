"""The card as JSON and CSV."""

from typing import Any

from radiosim.report.as_csv import csv_text
from radiosim.study.bench.step import Card


def card_json(card: Card) -> Card:
    """Everything, as the card has it; an end that is not known is null."""
    return card


def card_csv(card: Card) -> dict[str, str]:
    """File name → text: one row a prediction, with an empty column for what was measured."""
    rows: list[dict[str, Any]] = [
        {
            "number": number,
            "step": step.key,
            "title": step.title,
            "what": it.what,
            "low": it.low,
            "high": it.high,
            "unit": it.unit,
            "source": it.source,
            "tries": it.tries,
            "share": it.share,
            "text": it.text,
            "measured": None,
        }
        for number, step in enumerate(card.steps, start=1)
        for it in step.predicted
    ]
    return {"steps.csv": csv_text(("number", "step", "what", "low", "high"), rows)}
