"""What a field says: its signal, read by its sensor, and back from the wire (rule A7)."""

from collections.abc import Sequence

from radiosim.engine.payload import taken_at
from radiosim.layout.quantise import quantised
from radiosim.marks import rule
from radiosim.signals.constant import constant_at
from radiosim.signals.counter import count_at
from radiosim.signals.course import CONSTANT, COUNTER, LOOKAROUND, SINE, STEPS, Points
from radiosim.signals.lookaround import look_at
from radiosim.signals.sine import sine_at
from radiosim.signals.steps import step_at
from radiosim.signals.table import table_at
from radiosim.units import NS_PER_S


class FieldState:
    """One field of one stream; nothing of it changes in a start."""

    kind: int
    """Of its signal; see signals/course.py."""
    numbers: list[float]
    first: int
    """Where its points begin among those of all fields, and how many there are."""
    count: int
    every_ns: int
    phase_ns: int
    """Of its sensor; see payload.py."""
    float_bits: int
    """Its place on the wire; see layout/quantise.py."""
    scale: float
    neutral: float
    offset: float
    low: float
    high: float


class PartState:
    """One field of those that an output follows."""

    weight: float
    field: FieldState


@rule
def signal_at(f: FieldState, points: Points, seconds: float, frame: int) -> float:
    """What the hand does at an instant, or what is counted in a frame."""
    if f.kind == CONSTANT:
        return constant_at(f.numbers)
    if f.kind == SINE:
        return sine_at(f.numbers, seconds)
    if f.kind == STEPS:
        return step_at(f.numbers, points, f.first, f.count, seconds)
    if f.kind == LOOKAROUND:
        return look_at(f.numbers, seconds)
    if f.kind == COUNTER:
        return count_at(f.numbers, frame)
    return table_at(f.numbers, points, f.first, f.count, seconds)


@rule
def said(f: FieldState, points: Points, values_frame: int, values_ns: int) -> float:
    """What the receiver's program finds in the field of a frame, quantised as it travelled."""
    taken_ns = taken_at(values_ns, f.every_ns, f.phase_ns)
    value = signal_at(f, points, taken_ns / NS_PER_S, values_frame)
    return quantised(value, f.float_bits, f.scale, f.neutral, f.offset, f.low, f.high)


@rule
def mixed(parts: Sequence[PartState], points: Points, values_frame: int, values_ns: int) -> float:
    """The weighted sum of the fields that an output follows (rule G2)."""
    total = parts[0].weight * said(parts[0].field, points, values_frame, values_ns)
    for k in range(1, len(parts)):
        total += parts[k].weight * said(parts[k].field, points, values_frame, values_ns)
    return total


@rule
def pointed(parts: Sequence[PartState], points: Points, at_ns: int) -> float:
    """The same of what the hand does now, sensor and wire apart; a counter stands at zero."""
    total = parts[0].weight * signal_at(parts[0].field, points, at_ns / NS_PER_S, 0)
    for k in range(1, len(parts)):
        total += parts[k].weight * signal_at(parts[k].field, points, at_ns / NS_PER_S, 0)
    return total


@rule
def oldest_ns(parts: Sequence[PartState], values_ns: int) -> int:
    """When the oldest of the values that an output follows was taken."""
    field = parts[0].field
    taken_ns = taken_at(values_ns, field.every_ns, field.phase_ns)
    for k in range(1, len(parts)):
        field = parts[k].field
        taken_ns = min(taken_ns, taken_at(values_ns, field.every_ns, field.phase_ns))
    return taken_ns
