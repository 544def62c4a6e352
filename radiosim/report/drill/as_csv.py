"""A failsafe drill as tables of comma-separated values, one file a table."""

from radiosim.report.as_csv import csv_text
from radiosim.report.flat import Row, flat
from radiosim.study.drill.results import Drilled, StreamBound

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
    "unmet",
    "cures",
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
            ("stream", "output", "term", "ms", "why"),
            [row for stream, bound in drilled.bound.items() for row in _bound_rows(stream, bound)],
        ),
        "worst": (
            ("stream", "reaction_ms"),
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
        "asked": (("stream", "timeout_ms", "reaction_ms"), _asked_rows(drilled)),
        "notes": (("kind", "text"), _notes(drilled)),
        "requirements": (("figure",), [flat(found) for found in drilled.requirements]),
        "cures": (("set", "does"), [flat(cure) for cure in drilled.cures]),
        "unmet": (("stream", "figure"), [flat(found) for found in drilled.unmet]),
    }
    return {f"{name}.csv": csv_text(first, rows) for name, (first, rows) in tables.items()}


def _bound_rows(stream: str, bound: StreamBound) -> list[Row]:
    """One row a term; a stream without a bound has one that says why."""
    if bound.total_ms is None:
        return [{"stream": stream, "output": bound.output, "why": bound.why}]
    return [
        {"stream": stream, "output": bound.output, "term": term.name, "ms": term.ms}
        for term in bound.terms
    ]


def _asked_rows(drilled: Drilled) -> list[Row]:
    """One row a stream: the timeout that it has, and what the trade is judged by."""
    asked = drilled.asked
    return [
        {
            "stream": stream,
            "timeout_ms": drilled.timeout_ms.get(stream),
            "reaction_ms": reaction_ms,
            "nuisance_per_hour": asked.nuisance_per_hour,
            "hours": asked.hours,
        }
        for stream, reaction_ms in asked.reaction_ms.items()
    ]


def _notes(drilled: Drilled) -> list[Row]:
    """What was left out, assumed or changed, one row each."""
    told = {
        "skipped": drilled.skipped,
        "assumed": drilled.assumed,
        "note": drilled.notes,
        "not asked": drilled.asked.defaults,
    }
    return [{"kind": kind, "text": text} for kind, texts in told.items() for text in texts]
