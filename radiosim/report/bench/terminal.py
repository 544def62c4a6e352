"""The card in 80 columns: cautions, then a step after the other with blanks to fill in."""

from collections.abc import Iterator

from rich.console import Console, RenderableType
from rich.text import Text

from radiosim.report.bench.words import band_text, remark, source_text
from radiosim.report.terminal.parts import Trimmed, block, hanging
from radiosim.report.terminal.words import printable
from radiosim.study.bench.step import Card, Step

BLANK = "measured: ______________"


def print_card(card: Card, console: Console) -> None:
    """Print it; cautions first."""
    console.print(Text(f"Bench card: {printable(card.title)}", style="bold"))
    console.print()
    for part in _parts(card):
        console.print(Trimmed(part=part))


def _parts(card: Card) -> Iterator[RenderableType]:
    yield block("Before anything is switched on", hanging([("!", it) for it in card.cautions]))
    chapter = ""
    for number, step in enumerate(card.steps, start=1):
        if step.chapter != chapter:
            chapter = step.chapter
            yield Text(f"== {chapter} ==", style="bold")
            yield Text()
        yield block(f"[ ] {number}. {printable(step.title)}", hanging(_rows(step), widths=(8,)))
    for note in card.notes:
        yield Text(printable(note))
    yield Text(
        f"Seed {card.seed}, version {card.version}. Bands of simulated steps are for one "
        "measurement as described, not for a mean of many."
    )


def _rows(step: Step) -> Iterator[tuple[str, str]]:
    yield "do", printable(step.do)
    yield "measure", printable(step.measure)
    for it in step.predicted:
        text = f"{printable(it.what)}: {band_text(it)} [{source_text(it)}]"
        said = remark(it)
        yield "expect", f"{text} ({said})" if said else text
        yield "", BLANK
    yield "if not", printable(step.if_not)
