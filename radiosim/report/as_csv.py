"""A summary as tables of comma-separated values, one file a table."""

import csv
import io
from collections.abc import Sequence
from typing import Any

from radiosim.measure.summary import Summary
from radiosim.report.flat import Row, columns_of, flat

_OUTSIDE_RUN = (
    "assumed",
    "warnings",
    "figures",
    "worst",
    "stopping",
    "requirements",
    "findings",
    "curves",
)


def as_csv(summary: Summary) -> dict[str, str]:
    """File name → text of each table. What could not be measured is an empty cell.

    Every table is always there, one without rows with its first columns alone, so that a folder
    written twice holds nothing of the first time.
    """
    figures = summary.figures
    tables: dict[str, tuple[tuple[str, ...], list[Row]]] = {
        "run": ((), [flat(summary, leave_out=_OUTSIDE_RUN)]),
        "streams": (
            ("stream",),
            [
                {"stream": name, **flat(of_stream, leave_out=("failsafe",))}
                for name, of_stream in figures.stream.items()
            ],
        ),
        "outputs": (
            ("output", "stream"),
            [{"output": name, **flat(output)} for name, output in figures.output.items()],
        ),
        "failsafe": (("stream", "timeout_ms"), _failsafe_rows(summary)),
        "stopping": (("stream", "output", "bound_ms"), _stopping_rows(summary)),
        "faults": (
            ("fault", "kind", "unit"),
            [{"fault": number, **flat(fault)} for number, fault in enumerate(figures.faults)],
        ),
        "requirements": (("figure",), [flat(requirement) for requirement in summary.requirements]),
        "findings": (
            ("where", "what", "cure"),
            [flat(finding, leave_out=("set",)) for finding in summary.findings],
        ),
        "worst": (
            ("figure", "value", "start"),
            [{"figure": path, **flat(worst)} for path, worst in summary.worst.items()],
        ),
        "air": ((), [flat(figures.air)]),
        "receiver": ((), [flat(figures.receiver)]),
        "assumed": (("kind", "text"), _notes(summary)),
    }
    return {f"{name}.csv": csv_text(first, rows) for name, (first, rows) in tables.items()}


def _failsafe_rows(summary: Summary) -> list[Row]:
    """One row a stream that has a failsafe."""
    return [
        {"stream": name, "timeout_ms": stopping.timeout_ms, **flat(failsafe)}
        for name, stopping in summary.stopping.items()
        if (failsafe := summary.figures.stream[name].failsafe) is not None
    ]


def _stopping_rows(summary: Summary) -> list[Row]:
    """One row an output, with the terms of its stream's bound."""
    return [
        {
            "stream": stream,
            "output": output,
            "bound_ms": bound_ms,
            "why": stopping.why.get(output, ""),
            "stopping_ms": stopping.stopping_ms.get(output),
            "cannot_work": stopping.cannot_work,
            "blind_to": "; ".join(stopping.blind_to),
            **{f"terms_ms.{name}": term_ms for name, term_ms in stopping.terms_ms.items()},
        }
        for stream, stopping in summary.stopping.items()
        for output, bound_ms in stopping.bound_ms.items()
    ]


def _notes(summary: Summary) -> list[Row]:
    return [
        {"kind": kind, "text": text}
        for kind, texts in (("assumed", summary.assumed), ("warning", summary.warnings))
        for text in texts
    ]


def csv_text(first: tuple[str, ...], rows: Sequence[Row]) -> str:
    """Rows as comma-separated values; `first`: columns that are always there, and come first."""
    columns = columns_of([dict.fromkeys(first), *rows])
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows([_cell(row.get(column)) for column in columns] for row in rows)
    return stream.getvalue()


def _cell(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    return str(value)
