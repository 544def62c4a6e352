"""The first lines: what was simulated, and what was assumed for it."""

from collections.abc import Iterator

from rich.console import RenderableType
from rich.text import Text

from radiosim.counted import counted
from radiosim.measure.summary import Summary
from radiosim.report.terminal.parts import block
from radiosim.report.terminal.words import printable, span


def head(summary: Summary) -> Iterator[RenderableType]:
    """Title, starts, length, seed, engine."""
    title = printable(summary.title or summary.scenario or "A scenario without a title")
    made_by = f"seed {summary.seed}, {summary.engine} engine"
    yield Text.assemble((title, "bold"), f": {amount(summary)} ({made_by})")
    yield from _meetings(summary)
    yield Text()


def _meetings(summary: Summary) -> Iterator[RenderableType]:
    """That some starts were made to show what ordinary ones seldom do (rule T6)."""
    made = summary.starts_around_beats
    if made and summary.start is not None:
        yield Text("This start was placed on a beat of the transmitters' clocks.")
    elif made:
        yield Text(
            f"{made} of the starts were placed on a beat of the transmitters' clocks; averages are "
            "weighted back."
        )


def amount(summary: Summary) -> str:
    """How many starts of which length."""
    if summary.start is not None:
        return f"start {summary.start}, {span(summary.duration_s)}"
    total = span(summary.starts * summary.duration_s)
    return f"{counted(summary.starts, 'start')} of {span(summary.duration_s)}, {total} in all"


def assumptions(summary: Summary) -> Iterator[RenderableType]:
    """What the scenario does not say, one line each."""
    if summary.assumed:
        lines = [Text(f"  {printable(text)}", style="dim") for text in summary.assumed]
        yield block("Assumed, because the scenario does not say it", *lines)
