"""A signal of a waveform: where it stands, what it is, and when it changes."""

from collections.abc import Iterable
from dataclasses import dataclass, replace

from radiosim.report.spans import Span, union

Value = int | float | str
"""Of a wire or a number; "x" where it is neither 0 nor 1."""
Change = tuple[int, Value]
"""When, ns, and to what."""

REAL = 0
"""Bits of a signal that is no whole number."""
UNKNOWN = "x"


@dataclass(frozen=True, slots=True, kw_only=True)
class Signal:
    """One line of a viewer."""

    scope: tuple[str, ...]
    name: str
    bits: int
    """1: a wire; REAL: a real number."""
    first: Value
    """At 0 ns, unless it changes there."""
    changes: tuple[Change, ...]
    """In order, one an instant, each to another value."""


def signal(
    scope: tuple[str, ...],
    name: str,
    changes: Iterable[Change],
    *,
    bits: int = 1,
    first: Value = 0,
) -> Signal:
    """A signal from its changes in any order; of those at one instant the last counts."""
    at_instant = dict(sorted(changes, key=lambda change: change[0]))
    kept: list[Change] = []
    value = first
    for at_ns, then in at_instant.items():
        if then != value:
            kept.append((at_ns, then))
            value = then
    return Signal(scope=scope, name=name, bits=bits, first=first, changes=tuple(kept))


def wire(scope: tuple[str, ...], name: str, spans: Iterable[Span]) -> Signal:
    """A wire that is 1 in some spans; what touches or overlaps is one span."""
    ends = ((span[0], 1, span[1], 0) for span in union(spans))
    changes = [change for a, up, b, down in ends for change in ((a, up), (b, down))]
    return signal(scope, name, changes)


def number(
    scope: tuple[str, ...], name: str, rows: Iterable[tuple[int, int, int]], *, bits: int
) -> Signal:
    """A whole number that stands in spans (start, end, number), and is 0 between them."""
    most = (1 << bits) - 1
    changes: dict[int, Value] = {}
    for start_ns, end_ns, value in rows:
        if end_ns > start_ns:
            changes[start_ns] = min(value, most)
            changes.setdefault(end_ns, 0)
    return signal(scope, name, changes.items(), bits=bits)


def until(signal: Signal, end_ns: int) -> Signal:
    """The signal without what comes after an instant."""
    kept = tuple(change for change in signal.changes if change[0] <= end_ns)
    return replace(signal, changes=kept)
