"""Spans of time, and when units run and their radios turn round, listen or cannot hear."""

from collections.abc import Iterable, Iterator

from radiosim.engine.plan import Plan
from radiosim.engine.plan_rows import (
    ACKNOWLEDGING,
    PROGRAM_PAUSES,
    PROGRAM_RESUMES,
    PROGRAM_STARTS,
    PROGRAM_STOPS,
    RADIO_STARTS,
    RADIO_STOPS,
    Rx,
    Work,
)
from radiosim.engine.rules.timing import drifting_point, drifting_until
from radiosim.measure.of_stream import window_ns
from radiosim.trace import Fate, Table, Trace

Span = tuple[int, int]


def union(spans: Iterable[Span]) -> list[Span]:
    """The same time as spans that are in order and do not touch; empty ones vanish."""
    joined: list[Span] = []
    for start_ns, end_ns in sorted(spans):
        if end_ns <= start_ns:
            continue
        if joined and start_ns <= joined[-1][1]:
            joined[-1] = joined[-1][0], max(joined[-1][1], end_ns)
        else:
            joined.append((start_ns, end_ns))
    return joined


def without(spans: Iterable[Span], others: Iterable[Span]) -> list[Span]:
    """The time of the first that is not in the others."""
    left: list[Span] = []
    taken, k = union(others), 0
    for start_ns, end_ns in union(spans):
        since_ns = start_ns
        while k < len(taken) and taken[k][1] <= start_ns:
            k += 1
        j = k
        while j < len(taken) and taken[j][0] < end_ns:
            left.append((since_ns, taken[j][0]))
            since_ns = taken[j][1]
            j += 1
        left.append((since_ns, end_ns))
    return union(left)


def inside(spans: Iterable[Span], others: Iterable[Span]) -> list[Span]:
    """The time that both have."""
    first = union(spans)
    return without(first, without(first, others))


def spans_of(table: Table) -> list[Span]:
    """From `start_ns` to `end_ns` of each row."""
    return list(zip(table["start_ns"].tolist(), table["end_ns"].tolist(), strict=True))


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


def radio_on_spans(plan: Plan, unit: int) -> list[Span]:
    """When a unit's radio is set up; the receiver is unit n."""
    return spans_between(plan, unit, (RADIO_STARTS,), (RADIO_STOPS,))


def receiver_settles(plan: Plan, acknowledgements: Table) -> list[Span]:
    """When the receiver's radio turns round, before and after each acknowledgement (rule B3)."""
    settle_ns = plan.rx.settle_ns
    around = (
        span
        for start_ns, end_ns in spans_of(acknowledgements)
        for span in ((start_ns - settle_ns, start_ns), (end_ns, end_ns + settle_ns))
    )
    return inside(around, radio_on_spans(plan, len(plan.tx)))


def deaf_spans(plan: Plan, within: Span | None = None) -> list[Span]:
    """When the receiver's program keeps its radio from listening (rules D1 and E3).

    Where it stands still it goes on doing what it did (rule E3, hang).
    """
    unit, spans = len(plan.tx), list[Span]()
    shown = (0, plan.until_ns) if within is None else within
    for run in _runs(plan):
        pauses = inside(
            spans_between(plan, unit, (PROGRAM_PAUSES,), (PROGRAM_RESUMES, PROGRAM_STOPS)), [run]
        )
        held = [pause for pause in pauses if _due(plan, run[0], (pause[0], pause[0] + 1))]
        on_grid = [due for part in inside([run], [shown]) for due in _due(plan, run[0], part)]
        spans.extend((*without(on_grid, pauses), *held))
    if plan.rx.deaf_in_boot:
        spans.extend(without([(0, plan.until_ns)], _runs(plan)))
    return inside(spans, [shown])


def _due(plan: Plan, base_ns: int, part: Span) -> list[Span]:
    """What of a part of a run that began at `base_ns` is deaf by the grid."""
    return inside(
        (
            (began_ns, began_ns + deaf.takes_ns)
            for deaf in plan.rx.deaf[: plan.rx.deafs]
            for began_ns in _grid(base_ns + deaf.offset_ns, deaf, plan.rx, part)
        ),
        [part],
    )


def _grid(since_ns: int, work: Work, rx: Rx, part: Span) -> Iterator[int]:
    """When work begins that may last into a part."""
    clock = (work.every_ns, rx.ppb, rx.drift, since_ns)
    k = drifting_until(part[0] - since_ns - work.takes_ns, *clock)
    while (at_ns := since_ns + drifting_point(k, *clock)) < part[1]:
        yield at_ns
        k += 1


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


def transmitter_waits(trace: Trace, plan: Plan, i: int) -> tuple[list[Span], list[Span]]:
    """When a transmitter's radio turns round, and when it listens (rules B1, B3 and B4)."""
    tx = plan.tx[i]
    mine = trace.attempts[trace.attempts["stream"] == i]
    acknowledged = {
        (frame, attempt): (end_ns, takers)
        for stream, frame, attempt, _, end_ns, _, takers in trace.acknowledgements.tolist()
        if stream == i
    }
    settles: list[Span] = []
    listens: list[Span] = []
    for _, frame, attempt, _, _, start_ns, end_ns, fate in mine.tolist():
        settles.append((start_ns - tx.settle_ns, start_ns))
        if tx.acknowledge != ACKNOWLEDGING or fate == Fate.CUT:
            continue
        ready_ns = end_ns + tx.settle_ns
        settles.append((end_ns, ready_ns))
        in_vain_ns = ready_ns + window_ns(tx)
        until_ns, takers = acknowledged.get((frame, attempt), (in_vain_ns, 0))
        listens.append((ready_ns, until_ns if takers else max(until_ns, in_vain_ns)))
    return settles, listens
