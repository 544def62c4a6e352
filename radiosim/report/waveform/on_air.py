"""Transmitters and the receiver's radio: what is on the air, and what each radio does."""

from collections.abc import Iterator

from radiosim.engine.plan import Plan
from radiosim.engine.plan_rows import (
    ANSWERED,
    PROGRAM_PAUSES,
    PROGRAM_RESUMES,
    PROGRAM_STARTS,
    PROGRAM_STOPS,
    RADIO_STARTS,
    RADIO_STOPS,
)
from radiosim.engine.rules.grid import grid_point
from radiosim.measure.of_radio import window_ns
from radiosim.report.waveform.signal import Signal, number, wire
from radiosim.report.waveform.spans import Span, inside, union, without
from radiosim.trace import CUT, FULL, TAKEN, Table, Trace

ATTEMPT_BITS = 16


def transmitter_signals(trace: Trace, plan: Plan) -> Iterator[Signal]:
    """What each transmitter and its radio do."""
    for i, name in enumerate(plan.streams):
        scope = "transmitters", name
        mine = trace.attempts[trace.attempts["stream"] == i]
        answers = trace.acknowledgements[trace.acknowledgements["stream"] == i]
        spans = list(zip(mine["start_ns"].tolist(), mine["end_ns"].tolist(), strict=True))
        fates = mine["fate"].tolist()
        yield wire(scope, "on_air", spans)
        rows = [
            (*span, attempt) for span, attempt in zip(spans, mine["attempt"].tolist(), strict=True)
        ]
        yield number(scope, "attempt", rows, bits=ATTEMPT_BITS)
        lost = [span for span, fate in zip(spans, fates, strict=True) if fate >= FULL]
        yield wire(scope, "lost", lost)
        yield wire(scope, "acknowledged", _spans_of(answers))
        yield wire(scope, "acknowledgement_lost", _spans_of(answers[answers["fate"] != TAKEN]))
        on = spans_between(plan, i, (RADIO_STARTS,), (RADIO_STOPS,))
        yield wire(scope, "radio_on", on)
        settles, listens = _waits(trace, plan, i)
        yield wire(scope, "settles", inside(settles, on))
        yield wire(scope, "listens", inside(without(listens, settles), on))


def receiver_radio_signals(trace: Trace, plan: Plan) -> Iterator[Signal]:
    """What the receiver's radio does; it listens, except to answer (rule D1)."""
    scope, settle_ns = ("receiver",), plan.rx.settle_ns
    sends = _spans_of(trace.acknowledgements)
    on = spans_between(plan, len(plan.tx), (RADIO_STARTS,), (RADIO_STOPS,))
    settles = inside(
        (
            span
            for start_ns, end_ns in sends
            for span in ((start_ns - settle_ns, start_ns), (end_ns, end_ns + settle_ns))
        ),
        on,
    )
    yield wire(scope, "acknowledges", sends)
    yield wire(scope, "radio_on", on)
    yield wire(scope, "settles", settles)
    yield wire(scope, "listens", without(on, (*sends, *settles, *deaf_spans(plan))))


def spans_between(
    plan: Plan, unit: int, begins: tuple[int, ...], ends: tuple[int, ...]
) -> list[Span]:
    """From steps of one unit to steps of it, or to the end of the run."""
    spans: list[Span] = []
    since_ns: int | None = None
    for step in plan.steps:
        if step.unit != unit or step.kind not in (*begins, *ends):
            continue
        if since_ns is not None:
            spans.append((since_ns, step.at_ns))
        since_ns = step.at_ns if step.kind in begins else None
    if since_ns is not None:
        spans.append((since_ns, plan.until_ns))
    return union(spans)


def deaf_spans(plan: Plan) -> list[Span]:
    """When the receiver's program keeps its radio from listening (rule D1).

    Where it stands still it goes on doing what it did (rule E3, hang).
    """
    unit, spans = len(plan.tx), list[Span]()
    for base_ns, stop_ns in _runs(plan):
        on_grid = union(
            (began_ns, began_ns + deaf.takes_ns)
            for deaf in plan.rx.deaf[: plan.rx.deafs]
            for began_ns in _grid(base_ns + deaf.offset_ns, deaf.every_ns, plan.rx.ppb, stop_ns)
        )
        pauses = inside(
            spans_between(plan, unit, (PROGRAM_PAUSES,), (PROGRAM_RESUMES, PROGRAM_STOPS)),
            [(base_ns, stop_ns)],
        )
        held = [pause for pause in pauses if inside(on_grid, [(pause[0], pause[0] + 1)])]
        spans.extend(inside((*without(on_grid, pauses), *held), [(base_ns, stop_ns)]))
    return union(spans)


def _runs(plan: Plan) -> Iterator[Span]:
    """From each boot of the receiver's program until it is down."""
    since_ns: int | None = None
    for step in plan.steps:
        if step.unit == len(plan.tx) and step.kind in (PROGRAM_STARTS, PROGRAM_STOPS):
            if since_ns is not None:
                yield since_ns, step.at_ns
            since_ns = step.at_ns if step.kind == PROGRAM_STARTS else None
    if since_ns is not None:
        yield since_ns, plan.until_ns


def _grid(since_ns: int, every_ns: int, ppb: int, until_ns: int) -> Iterator[int]:
    k = 0
    while (at_ns := since_ns + grid_point(k, every_ns, ppb)) < until_ns:
        yield at_ns
        k += 1


def _waits(trace: Trace, plan: Plan, i: int) -> tuple[list[Span], list[Span]]:
    """When a sender's radio turns round, and when it listens (rules B1, B3 and B4)."""
    tx = plan.tx[i]
    mine = trace.attempts[trace.attempts["stream"] == i]
    answered = {
        (frame, attempt): (end_ns, takers)
        for stream, frame, attempt, _, end_ns, _, takers in trace.acknowledgements.tolist()
        if stream == i
    }
    settles: list[Span] = []
    listens: list[Span] = []
    for _, frame, attempt, _, _, start_ns, end_ns, fate in mine.tolist():
        settles.append((start_ns - tx.settle_ns, start_ns))
        if tx.acknowledge != ANSWERED or fate == CUT:
            continue
        ready_ns = end_ns + tx.settle_ns
        settles.append((end_ns, ready_ns))
        in_vain_ns = ready_ns + window_ns(tx)
        until_ns, takers = answered.get((frame, attempt), (in_vain_ns, 0))
        listens.append((ready_ns, until_ns if takers else max(until_ns, in_vain_ns)))
    return settles, listens


def _spans_of(table: Table) -> list[Span]:
    return list(zip(table["start_ns"].tolist(), table["end_ns"].tolist(), strict=True))
