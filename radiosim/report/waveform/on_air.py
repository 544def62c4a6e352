"""Transmitters and the receiver's radio: what is on the air, and what each radio does."""

from collections.abc import Iterator

from radiosim.engine.plan import Plan
from radiosim.report.radio_times import (
    deaf_spans,
    radio_on_spans,
    receiver_settles,
    spans_of,
    transmitter_waits,
)
from radiosim.report.spans import inside, without
from radiosim.report.waveform.signal import Signal, number, wire
from radiosim.trace import AcknowledgementFate, Fate, Trace

ATTEMPT_BITS = 16


def transmitter_signals(trace: Trace, plan: Plan) -> Iterator[Signal]:
    """What each transmitter and its radio do."""
    for i, name in enumerate(plan.streams):
        scope = "transmitters", name
        mine = trace.attempts[trace.attempts["stream"] == i]
        acknowledgements = trace.acknowledgements[trace.acknowledgements["stream"] == i]
        spans, fates = spans_of(mine), mine["fate"].tolist()
        yield wire(scope, "on_air", spans)
        rows = [
            (*span, attempt) for span, attempt in zip(spans, mine["attempt"].tolist(), strict=True)
        ]
        yield number(scope, "attempt", rows, bits=ATTEMPT_BITS)
        lost = [span for span, fate in zip(spans, fates, strict=True) if fate >= Fate.FULL]
        yield wire(scope, "lost", lost)
        yield wire(scope, "acknowledged", spans_of(acknowledgements))
        is_lost = acknowledgements["fate"] != AcknowledgementFate.TAKEN
        yield wire(scope, "acknowledgement_lost", spans_of(acknowledgements[is_lost]))
        on = radio_on_spans(plan, i)
        yield wire(scope, "radio_on", on)
        settles, listens = transmitter_waits(trace, plan, i)
        yield wire(scope, "settles", inside(settles, on))
        yield wire(scope, "listens", inside(without(listens, settles), on))


def receiver_radio_signals(trace: Trace, plan: Plan) -> Iterator[Signal]:
    """What the receiver's radio does; it listens, except to acknowledge (rule D1)."""
    scope = ("receiver",)
    sends = spans_of(trace.acknowledgements)
    on = radio_on_spans(plan, len(plan.tx))
    settles = receiver_settles(plan, trace.acknowledgements)
    yield wire(scope, "acknowledges", sends)
    yield wire(scope, "radio_on", on)
    yield wire(scope, "settles", settles)
    yield wire(scope, "listens", without(on, (*sends, *settles, *deaf_spans(plan))))
