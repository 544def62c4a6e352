"""What a strip of some milliseconds shows: a lane for each transmitter, the receiver and each
output."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

from radiosim.engine.plan import Plan, plan_of
from radiosim.engine.plan_rows import (
    PROGRAM_PAUSES,
    PROGRAM_RESUMES,
    PROGRAM_STARTS,
    PROGRAM_STOPS,
)
from radiosim.report.spans import (
    deaf_spans,
    inside,
    radio_on_spans,
    receiver_settles,
    spans_between,
    spans_of,
    without,
)
from radiosim.results.formats import fmt_count
from radiosim.trace import AcknowledgementFate, Fate, Table, Trace
from radiosim.vehicle.vehicle import VehicleRecord, pass_starts

if TYPE_CHECKING:
    import numpy as np

MOST_MARKS = 300
"""Idle passes, or deaf spans, in a strip: more than these would be one grey area."""
DOWN, IDLE = "down", "idle"
HEARS, ACKNOWLEDGES, UNHEARD, SETTLES, DEAF = (
    "hears",
    "acknowledges",
    "acknowledges unheard",
    "settles",
    "deaf",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """Something that lasts; `fate` says what became of it."""

    start_ms: float
    end_ms: float
    fate: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Lane:
    """What one unit or part did."""

    name: str
    kind: str
    """transmitter, radio, passes, fifo, output"""
    spans: tuple[Span, ...]
    """In the FIFO lane and that of passes, `fate` is a number of frames, or `idle`."""
    acknowledgements: tuple[Span, ...] = ()
    """Acknowledgements of a transmitter's frames."""
    down: tuple[Span, ...] = ()
    """When its program does not run or, in the receiver's radio's lane, its radio is off."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StripData:
    """Some milliseconds of a start."""

    name: str
    start: int
    from_ms: float
    to_ms: float
    lanes: tuple[Lane, ...]
    about: str
    """Why this span."""
    stops: str | None = None
    """The fault of the scenario that begins in it, in words, if it is what the span is about."""
    left_out: tuple[str, ...] = ()
    """What is too much to be drawn."""


def strip_data(
    trace: Trace,
    vehicle: VehicleRecord,
    *,
    name: str,
    from_ms: float,
    to_ms: float,
    about: str,
    stops: str | None = None,
) -> StripData:
    """The rows of a trace between two instants."""
    shown = _Shown(trace, plan_of(trace), round(from_ms * 1e6), round(to_ms * 1e6))
    left_out: list[str] = []
    return StripData(
        name=name,
        start=trace.start,
        from_ms=shown.low / 1e6,
        to_ms=shown.high / 1e6,
        lanes=(
            *_transmitters(shown),
            _radio(shown, left_out),
            _passes(shown, left_out),
            Lane(name="frames in the FIFO", kind="fifo", spans=_fifo(shown)),
            *_outputs(shown, vehicle),
        ),
        about=about,
        stops=stops,
        left_out=tuple(left_out),
    )


@dataclass(frozen=True, slots=True)
class _Shown:
    """The part of a start that is shown."""

    trace: Trace
    plan: Plan
    low: int
    high: int

    def rows(self, table: Table, begin: str = "start_ns", end: str = "end_ns") -> Table:
        return table[(table[begin] < self.high) & (table[end] >= self.low)]

    def not_in(self, spans: Iterable[tuple[int, int]]) -> tuple[Span, ...]:
        return _spans(without([(self.low, self.high)], spans), DOWN)

    def runs(self, unit: int) -> list[tuple[int, int]]:
        begins, ends = (PROGRAM_STARTS, PROGRAM_RESUMES), (PROGRAM_STOPS, PROGRAM_PAUSES)
        return spans_between(self.plan, unit, begins, ends)


def _span(start_ns: int, end_ns: int, fate: str) -> Span:
    return Span(start_ms=int(start_ns) / 1e6, end_ms=int(end_ns) / 1e6, fate=fate)


def _spans(spans: Iterable[tuple[int, int]], fate: str) -> tuple[Span, ...]:
    return tuple(_span(*span, fate) for span in spans)


def _transmitters(shown: _Shown) -> Iterator[Lane]:
    attempts = shown.rows(shown.trace.attempts)
    acknowledgements = shown.rows(shown.trace.acknowledgements)
    for number, name in enumerate(shown.plan.streams):
        mine = attempts[attempts["stream"] == number]
        up = inside(shown.runs(number), radio_on_spans(shown.plan, number))
        yield Lane(
            name=name,
            kind="transmitter",
            spans=tuple(
                _span(row["start_ns"], row["end_ns"], Fate(row["fate"]).words) for row in mine
            ),
            acknowledgements=tuple(
                _span(row["start_ns"], row["end_ns"], _acknowledgement(row, number))
                for row in acknowledgements[acknowledgements["stream"] == number]
            ),
            down=shown.not_in(up),
        )


def _acknowledgement(row: "np.void", number: int) -> str:
    """What became of an acknowledgement for the transmitter that earned it."""
    is_astray = row["fate"] == AcknowledgementFate.TAKEN and not int(row["takers"]) >> number & 1
    return "taken by another" if is_astray else AcknowledgementFate(row["fate"]).words


def _radio(shown: _Shown, left_out: list[str]) -> Lane:
    plan, attempts = shown.plan, shown.rows(shown.trace.attempts)
    acknowledgements = shown.rows(shown.trace.acknowledgements)
    # An acknowledgement outside may have its turn inside.
    near = _Shown(
        shown.trace, plan, shown.low - plan.rx.settle_ns, shown.high + plan.rx.settle_ns
    ).rows(shown.trace.acknowledgements)
    on = radio_on_spans(plan, len(plan.tx))
    settles = inside(receiver_settles(plan, near), [(shown.low, shown.high)])
    deaf = without(
        deaf_spans(plan, (shown.low, shown.high)), (*spans_of(acknowledgements), *settles)
    )
    deaf = inside(deaf, on)
    if len(deaf) > MOST_MARKS:
        left_out.append(
            f"{fmt_count(len(deaf))} spans in which its program makes the receiver deaf"
        )
        deaf = []
    heard = attempts[(attempts["fate"] == Fate.NEW) | (attempts["fate"] == Fate.DUPLICATE)]
    is_taken = acknowledgements["fate"] == AcknowledgementFate.TAKEN
    spans = (
        *_spans(spans_of(heard), HEARS),
        *_spans(spans_of(acknowledgements[is_taken]), ACKNOWLEDGES),
        *_spans(spans_of(acknowledgements[~is_taken]), UNHEARD),
        *_spans(settles, SETTLES),
        *_spans(deaf, DEAF),
    )
    return Lane(
        name="receiver's radio",
        kind="radio",
        spans=tuple(sorted(spans, key=lambda span: span.start_ms)),
        down=shown.not_in(on),
    )


def _passes(shown: _Shown, left_out: list[str]) -> Lane:
    """Those that read, as long as they last; the others where they begin."""
    read = shown.rows(shown.trace.passes, "start_ns", "next_ns")
    begun = pass_starts(shown.trace, shown.plan, from_ns=shown.low, until_ns=shown.high)
    idle = sorted({*begun} - {*read["start_ns"].tolist()})
    if len(idle) > MOST_MARKS:
        left_out.append(f"{fmt_count(len(idle))} passes that read nothing")
        idle = []
    spans = (
        *(_span(row["start_ns"], row["next_ns"], str(row["frames"])) for row in read),
        *(_span(at_ns, at_ns, IDLE) for at_ns in idle),
    )
    return Lane(
        name="receiver's passes",
        kind="passes",
        spans=tuple(sorted(spans, key=lambda span: span.start_ms)),
        down=shown.not_in(shown.runs(len(shown.plan.tx))),
    )


def _fifo(shown: _Shown) -> tuple[Span, ...]:
    """Times of constant fill, empty ones left out."""
    steps: dict[int, int] = {}
    for row in shown.rows(shown.trace.reads, "accepted_ns", "read_ns"):
        steps[int(row["accepted_ns"])] = steps.get(int(row["accepted_ns"]), 0) + 1
        steps[int(row["read_ns"])] = steps.get(int(row["read_ns"]), 0) - 1
    instants, fill, spans = sorted(steps), 0, []
    for at, until in pairwise(instants):
        fill += steps[at]
        if fill:
            spans.append(_span(at, until, str(fill)))
    return tuple(spans)


def _outputs(shown: _Shown, vehicle: VehicleRecord) -> Iterator[Lane]:
    for name, record in vehicle.outputs.items():
        effects = shown.rows(record.effects, "end_ns", "end_ns")
        spans = tuple(_span(row["end_ns"], row["end_ns"], _effect(row)) for row in effects)
        told = f"output {name}" if name in shown.plan.streams else name
        yield Lane(name=told, kind="output", spans=spans)


def _effect(row: "np.void") -> str:
    if not row["is_live"]:
        return "not live"
    return "fresh" if row["is_fresh"] else "again"
