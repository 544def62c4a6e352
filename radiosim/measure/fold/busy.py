"""Time in which anything is on the air, overlaps counted once."""

from collections.abc import Sequence

from radiosim.marks import rule

MOST_SPANS = 64
"""Busy spans that are remembered: more than could end while one attempt is on the air."""


class Span:
    """A time in which the air was busy."""

    start_ns: int
    end_ns: int


class BusyState:
    """Busy time so far, and its last spans, oldest overwritten first."""

    busy_ns: int
    spans: int
    """Spans written, all in all."""
    kept: int
    """Of those, how many are remembered."""
    span: Sequence[Span]


@rule
def occupy(b: BusyState, start_ns: int, end_ns: int) -> None:
    """Something more was on the air; it ends no earlier than what came before it."""
    added_ns = end_ns - start_ns
    while b.kept > 0:
        last = b.span[(b.spans - 1) % MOST_SPANS]
        if last.end_ns <= start_ns:
            break
        added_ns -= last.end_ns - max(start_ns, last.start_ns)
        start_ns = min(start_ns, last.start_ns)
        b.spans -= 1
        b.kept -= 1
    b.busy_ns += added_ns
    new = b.span[b.spans % MOST_SPANS]
    new.start_ns = start_ns
    new.end_ns = end_ns
    b.spans += 1
    b.kept = min(b.kept + 1, MOST_SPANS)
