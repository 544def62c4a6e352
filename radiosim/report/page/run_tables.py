"""Findings and tables of a run's page."""

from collections.abc import Iterator

from radiosim.measure.summary import Summary
from radiosim.report.page.parts import PageTable, Section
from radiosim.report.terminal.findings import cure_parts, proof_text
from radiosim.report.terminal.parts import worst
from radiosim.report.terminal.requirements import row_of
from radiosim.report.terminal.verdict import verdict
from radiosim.report.terminal.words import action, digits
from radiosim.scenario import Scenario

HELD = {True: "holds", False: "FAILED", None: "not judged"}


def finding_sections(summary: Summary) -> Iterator[Section]:
    """What is wrong, how it was proved and what to try; one section a finding."""
    for found in summary.findings:
        lines, advice = cure_parts(found)
        yield Section(
            heading=f"{found.where}: {found.what}",
            prose=(
                f"Why: {found.why}. Proved by running starts again on the same draws: "
                f"{proof_text(found)}.",
                f"Try: {' '.join(lines) or advice}",
                *((f"With it: {advice}",) if lines and advice else ()),
                f"Measure: {found.measure}",
            ),
        )


def stream_table(summary: Summary, scenario: Scenario) -> Iterator[PageTable]:
    """Rates, delay and waits of every stream."""
    rows = []
    for name, figures in summary.figures.stream.items():
        longest_ms = worst(summary, f"stream.{name}.gap_ms.max", figures.gap_ms.max)
        rows.append(
            (
                name,
                verdict(summary, scenario, name),
                digits(figures.sampled / (summary.starts * summary.duration_s)),
                digits(figures.update_rate_hz),
                digits(figures.latency_ms.median),
                digits(figures.gap_ms.p99),
                digits(longest_ms),
            )
        )
    yield PageTable(
        caption="Streams",
        columns=(
            "",
            "verdict",
            "frames a second",
            "fresh values a second",
            "usual delay, ms",
            "usual wait, ms",
            "longest wait, ms",
        ),
        rows=tuple(rows),
        words=(1,),
        note="Wait: from one value to the next. Usual: median of delays; 99 of 100 waits are no "
        "longer.",
    )


def output_table(summary: Summary, scenario: Scenario) -> Iterator[PageTable]:
    """What each output gets and does."""
    if not summary.figures.output:
        return
    rows = []
    for name, figures in summary.figures.output.items():
        output = scenario.output[name]
        oldest_ms = worst(summary, f"output.{name}.age_ms.max", figures.age_ms.max)
        rows.append(
            (
                name,
                figures.stream,
                digits(figures.update_rate_hz),
                digits(figures.latency_ms.median),
                digits(figures.latency_ms.p99),
                digits(oldest_ms),
                action(output) if output.stream in scenario.failsafe else "none",
            )
        )
    yield PageTable(
        caption="Outputs",
        columns=(
            "",
            "stream",
            "fresh values a second",
            "usual delay, ms",
            "99 % delay, ms",
            "oldest value, ms",
            "on failsafe",
        ),
        rows=tuple(rows),
        words=(1, 6),
    )


def requirement_table(summary: Summary) -> Iterator[PageTable]:
    """What the scenario asks for and whether it holds."""
    if summary.requirements:
        yield PageTable(
            caption="Requirements, in the worst start" if summary.start is None else "Requirements",
            columns=("", "what"),
            rows=tuple((HELD[asked.ok], row_of(asked)) for asked in summary.requirements),
            words=(1,),
        )
