"""Pulses at pins beside what the model tells its outputs: each pulse by itself.

A board latches a width at a pulse's start or up to a period before, and reads up to a pass and a
step of its clock later than predicted: a pulse is right if its width was predicted meanwhile.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from radiosim.firmware.compare import Compared, Span, changes_of, level_at
from radiosim.firmware.ramps import Course, Levels, Times
from radiosim.trace import Table

WIDTH_NS = 12_000
"""How far a pulse may be off: its edges wait for other interrupts and locked spans."""
_MISSED = 1.5
"""Periods after a pulse at which the next has not come."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pulses:
    """What a servo's pin was seen to do, a row a period."""

    at_ns: Times
    width_ns: Levels
    """NaN: the pulse that was due then did not come."""


def pulses_of(mine: Table, period_ns: int, until_ns: int) -> Pulses:
    """Rows of OUT of one servo, in ns, with those that did not come between two or at an end."""
    at_ns: list[int] = []
    width_ns: list[float] = []
    due_ns = 0
    for start_ns, width in zip(mine["at_ns"].tolist(), mine["value"].tolist(), strict=True):
        for missed_ns in _missed(due_ns, start_ns, period_ns):
            at_ns.append(missed_ns)
            width_ns.append(np.nan)
        at_ns.append(start_ns)
        width_ns.append(width)
        due_ns = start_ns + period_ns
    for missed_ns in _missed(due_ns, until_ns, period_ns):
        at_ns.append(missed_ns)
        width_ns.append(np.nan)
    return Pulses(at_ns=np.array(at_ns, np.int64), width_ns=np.array(width_ns, np.float64))


def _missed(due_ns: int, next_ns: int, period_ns: int) -> Iterator[int]:
    """When pulses were due before the next that came."""
    while next_ns - due_ns > (_MISSED - 1) * period_ns:
        yield due_ns
        due_ns += period_ns


def compared_pulses(
    name: str, model: Course, real: Pulses, period_ns: int, until_ns: int, late_ns: int
) -> Compared:
    """Where pulses are none that were predicted, up to a period before and `late_ns` besides."""
    model = changes_of(model)
    at_ns = real.at_ns
    first = np.searchsorted(model.at_ns, at_ns - period_ns - late_ns, side="right") - 1
    last = np.searchsorted(model.at_ns, at_ns + late_ns, side="right") - 1
    is_right = np.zeros(len(at_ns), np.bool_)
    for further in range(int((last - first).max(initial=0)) + 1):
        row = np.minimum(first + further, last)
        is_right |= _is_like(_level_of(model, row), real.width_ns)
    now = level_at(model, at_ns)
    is_late = is_right & ~_is_like(now, real.width_ns)
    spans = tuple(_runs(~is_right, at_ns, until_ns, now, real))
    short = [span.length_ns for span in _runs(is_late, at_ns, until_ns, now, real)]
    return Compared(
        name=name,
        spans=spans,
        short=len(short),
        longest_short_ns=max(short, default=0),
        changes=len(model.at_ns),
        moves=len(np.unique(model.level[~np.isnan(model.level)])) > 1,
    )


def _level_of(course: Course, row: npt.NDArray[np.int64]) -> Levels:
    if not len(course.at_ns):
        return np.full(len(row), course.before)
    return np.where(row >= 0, course.level[np.maximum(row, 0)], course.before)


def _is_like(predicted: Levels, real: Levels) -> npt.NDArray[np.bool_]:
    with np.errstate(invalid="ignore"):
        is_near = np.abs(predicted - real) <= WIDTH_NS
    return is_near | (np.isnan(predicted) & np.isnan(real))


def _runs(
    which: npt.NDArray[np.bool_], at_ns: Times, until_ns: int, now: Levels, real: Pulses
) -> Iterator[Span]:
    """Rows one after the other as spans, each until the next row that is not among them."""
    edges = np.diff(np.concatenate(([0], which.astype(np.int8), [0])))
    ends = np.append(at_ns, until_ns)
    for first, end in zip(np.flatnonzero(edges == 1), np.flatnonzero(edges == -1), strict=True):
        yield Span(
            from_ns=int(at_ns[first]),
            until_ns=int(ends[end]),
            predicted=float(now[first]),
            real=float(real.width_ns[first]),
        )
