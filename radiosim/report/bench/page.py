"""The card as one HTML page, to be printed and filled in."""

from importlib import resources

from jinja2 import Environment, StrictUndefined

from radiosim.report.bench.words import band_text, remark, ends_text
from radiosim.study.bench.step import Card, Step


def card_page(card: Card) -> str:
    """A whole page without scripts, fonts or anything else from outside."""
    # A scene's texts are a stranger's: they are escaped wherever they stand.
    environment = Environment(
        autoescape=True, trim_blocks=True, lstrip_blocks=True, undefined=StrictUndefined
    )
    text = resources.files("radiosim.report.bench") / "card.html.j2"
    template = environment.from_string(text.read_text(encoding="utf-8"))
    return template.render(
        card=card,
        chapters=_chapters(card),
        band_text=band_text,
        ends_text=source_text,
        remark=remark,
    )


def _chapters(card: Card) -> list[tuple[str, list[tuple[int, Step]]]]:
    """Steps with their numbers, by chapter."""
    chapters: dict[str, list[tuple[int, Step]]] = {}
    for number, step in enumerate(card.steps, start=1):
        chapters.setdefault(step.chapter, []).append((number, step))
    return list(chapters.items())
