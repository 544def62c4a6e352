"""A summary as a small table of HTML, for notebooks."""

from __future__ import annotations

from collections.abc import Iterator
from html import escape
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from radiosim.measure.summary import StreamFigures, Summary

_COLUMNS = (
    "stream",
    "fresh values a second",
    "read, % of samples",
    "longest wait, ms",
    "latency, 99 %, ms",
    "nuisance trips an hour",
)
_WORDS = {True: "held", False: "FAILED", None: "not judged"}


def summary_html(summary: Summary) -> str:
    """Streams, and whether each requirement held; every text of the scenario is escaped."""
    starts = f"start {summary.start}" if summary.start is not None else f"{summary.starts} starts"
    title = summary.title or summary.scenario or "A scenario without a title"
    caption = f"{title}: {starts} of {summary.duration_s:g} s (seed {summary.seed})"
    rows = (_cells(name, figures) for name, figures in summary.figures.stream.items())
    head = "".join(f'<th scope="col">{text}</th>' for text in _COLUMNS)
    body = "".join(f'<tr><th scope="row">{name}</th>{"".join(rest)}</tr>' for name, *rest in rows)
    notes = "".join(f"<li>{text}</li>" for text in _notes(summary))
    return (
        f"<table><caption>{escape(caption)}</caption><thead><tr>{head}</tr></thead>"
        f"<tbody>{body}</tbody></table>" + (f"<ul>{notes}</ul>" if notes else "")
    )


def _cells(name: str, figures: StreamFigures) -> Iterator[str]:
    yield escape(name)
    share = figures.delivery_ratio
    trips = None if figures.failsafe is None else figures.failsafe.nuisance_per_hour
    for value in (
        figures.update_rate_hz,
        None if share is None else 100 * share,
        figures.gap_ms.max,
        figures.latency_ms.p99,
        trips,
    ):
        yield "<td>-</td>" if value is None else f"<td>{_digits(value)}</td>"


def _notes(summary: Summary) -> Iterator[str]:
    for requirement in summary.requirements:
        measured = "" if requirement.measured is None else f", {requirement.measured:g}"
        yield f"{escape(requirement.figure)}: {_WORDS[requirement.ok]}{measured}"
    for finding in summary.findings:
        yield escape(f"{finding.where}: {finding.what}")


def _digits(value: float) -> str:
    """Three digits, large numbers whole."""
    return f"{value:.0f}" if abs(value) >= 1000 else f"{value:.3g}"
