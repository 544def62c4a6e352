"""Spans of time, [start, end) in ns, in order and apart from one another."""

from collections.abc import Iterable

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
