"""The table of streams."""

from collections.abc import Iterator

from rich.console import RenderableType
from rich.text import Text

from radiosim.measure.summary import Summary
from radiosim.report.terminal.parts import Cell, block, table, worst
from radiosim.report.terminal.verdict import verdict
from radiosim.report.terminal.words import digits, whole
from radiosim.scenario import Scenario

_STYLE = {"steady": "green", "gaps": "yellow"}
_WORST = "bold red"


def stream_table(summary: Summary, scenario: Scenario) -> Iterator[RenderableType]:
    """Rates, delay and waits of every stream, with a verdict."""
    is_one = summary.start is not None
    columns = (
        "",
        "frames\na second",
        "fresh values\na second",
        "worst\nsecond" if is_one else "worst\nstart",
        "usual\ndelay ms",
        "usual\nwait ms",
        "longest\nwait ms",
        " verdict",
    )
    rows = [_row(summary, scenario, name) for name in summary.figures.stream]
    longest = "" if is_one else " Longest: in the worst start."
    note = f"Wait: from one value to the next. Usual: 99 of 100 are no longer.{longest}"
    yield block("Streams", table(columns, rows), Text(note, style="dim"))


def _row(summary: Summary, scenario: Scenario, name: str) -> tuple[Cell, ...]:
    figures = summary.figures.stream[name]
    path = f"stream.{name}"
    word = verdict(summary, scenario, name)
    return (
        name,
        digits(figures.sampled / (summary.starts * summary.duration_s)),
        digits(figures.update_rate_hz),
        _low_point(summary, name),
        digits(figures.latency_ms.median),
        digits(figures.gap_ms.p99),
        digits(worst(summary, f"{path}.gap_ms.max", figures.gap_ms.max)),
        Text(word, style=_STYLE.get(word, _WORST)),
    )


def _low_point(summary: Summary, name: str) -> str:
    if summary.start is None:
        return digits(worst(summary, f"stream.{name}.update_rate_hz", None))
    updates = summary.figures.stream[name].worst_second_updates
    return digits(None) if updates is None else whole(updates)
