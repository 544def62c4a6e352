"""The card as one HTML page, to be printed and filled in."""

from importlib import resources

from jinja2 import Environment, StrictUndefined
from markupsafe import Markup

from radiosim.report.bench.legend import legend, trust_of
from radiosim.report.bench.table import Table, reached_text, tables_of
from radiosim.study.bench.step import ALIVE_WORD, Card, Chapter, Step


def card_page(card: Card) -> str:
    """A whole page without scripts, fonts or anything else from outside."""
    # A scenario's texts are a stranger's: they are escaped wherever they stand.
    environment = Environment(
        autoescape=True, trim_blocks=True, lstrip_blocks=True, undefined=StrictUndefined
    )
    template = environment.from_string(_file("card.html.j2"))
    return template.render(
        card=card,
        chapters=_chapters(card),
        legend=legend(card),
        hazard=ALIVE_WORD,
        reached_text=reached_text,
        style=Markup(_file("card.css")),
    )


def _file(name: str) -> str:
    return (resources.files("radiosim.report.bench") / name).read_text(encoding="utf-8")


def _chapters(card: Card) -> list[tuple[Chapter, list[tuple[int, Step, tuple[Table, ...]]]]]:
    """Chapters with their steps, each with its number and tables."""
    numbers = {step.key: number for number, step in enumerate(card.steps, start=1)}
    return [
        (
            chapter,
            [
                (numbers[step.key], step, tables_of(step, numbers[step.key], trust_of(card)))
                for step in chapter.steps
            ],
        )
        for chapter in card.chapters
    ]
