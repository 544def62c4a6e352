"""A failsafe drill as tables of comma-separated values, one file a table."""

from radiosim.report.as_csv import csv_text
from radiosim.report.flat import Row, flat
from radiosim.study.drill.results import Drilled

_TABLES = (
    "drills",
    "others",
    "bound",
    "worst",
    "asked",
    "timeout_ms",
    "trade",
    "room",
    "requirements",
)
_NOTES = ("skipped", "assumed", "notes")


def as_csv(drilled: Drilled) -> dict[str, str]:
    """File name → text of each table; all are always there. What never came is an empty cell."""
    tables: dict[str, tuple[tuple[str, ...], list[Row]]] = {
        "drill": ((), [flat(drilled, leave_out=(*_TABLES, *_NOTES))]),
        "drills": (
            ("fault", "unit", "stream", "output"),
            [flat(drill, leave_out=("terms",)) for drill in drilled.drills],
        ),
        "terms": (
            ("fault", "unit", "output", "term", "ms"),
            [
                {"fault": d.fault, "unit": d.unit, "output": d.output, "term": t.name, "ms": t.ms}
                for d in drilled.drills
                for t in d.terms
            ],
        ),
        "others": (("fault", "unit", "output", "stops"), [flat(o) for o in drilled.others]),
        "bound": (
            ("stream", "output", "term", "ms"),
            [
                {"stream": stream, "output": bound.output, "term": term.name, "ms": term.ms}
                for stream, bound in drilled.bound.items()
                for term in bound.terms
            ],
        ),
        "worst": (
            ("stream", "stop_ms"),
            [{"stream": stream, **flat(worst)} for stream, worst in drilled.worst.items()],
        ),
        "trade": (
            ("stream", "timeout_ms"),
            [
                {"stream": stream, **flat(point)}
                for stream, curve in drilled.trade.items()
                for point in curve
            ],
        ),
        "room": (
            ("stream", "shortest_ms", "longest_ms"),
            [{"stream": stream, **flat(room)} for stream, room in drilled.room.items()],
        ),
        "requirements": (("figure",), [flat(found) for found in drilled.requirements]),
    }
    return {f"{name}.csv": csv_text(first, rows) for name, (first, rows) in tables.items()}
