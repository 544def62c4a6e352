"""The table of outputs."""

from collections.abc import Iterator

from rich.console import RenderableType

from radiosim.measure.summary import OutputFigures, Summary
from radiosim.report.terminal.parts import Cell, block, table, worst
from radiosim.report.terminal.words import action, digits, limit
from radiosim.scenario import Scenario
from radiosim.scenario.structs.output_table import Output


def output_table(summary: Summary, scenario: Scenario) -> Iterator[RenderableType]:
    """Refresh, fresh values, delay, age and failsafe action of everything that is driven."""
    if not summary.figures.output:
        return
    columns = (
        "",
        "pulses\na second",
        "fresh values\na second",
        *(() if summary.start is not None else ("worst\nstart",)),
        "usual\ndelay ms",
        "oldest\nvalue ms",
        " on\nfailsafe",
    )
    yield block(
        "Outputs",
        table(columns, [_row(summary, scenario, name) for name in summary.figures.output]),
    )


def _row(summary: Summary, scenario: Scenario, name: str) -> tuple[Cell, ...]:
    figures = summary.figures.output[name]
    rate_of_worst = worst(summary, f"output.{name}.update_rate_hz", None)
    oldest_ms = worst(summary, f"output.{name}.age_ms.max", figures.age_ms.max)
    output = scenario.output[name]
    has_failsafe = output.stream in scenario.failsafe
    return (
        name,
        _pulses(figures, output),
        digits(figures.update_rate_hz),
        *(() if summary.start is not None else (digits(rate_of_worst),)),
        digits(figures.latency_ms.median),
        digits(oldest_ms),
        action(output) if has_failsafe else "none",
    )


def _pulses(figures: OutputFigures, output: Output) -> str:
    """How often its level is renewed; an output that waits for its first value does nothing."""
    if output.at_start == "none" and not figures.update_rate_hz:
        return "none"
    return "at once" if figures.refresh_hz is None else limit(figures.refresh_hz)
