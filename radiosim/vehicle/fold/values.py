"""Compiled values of an output: from fields to a level and a servo angle (A7, G2, G4)."""

from collections.abc import Sequence
from typing import NamedTuple

from radiosim.engine.payload import taken_at
from radiosim.engine.rules.noise import noise_number
from radiosim.layout.field import wire_number
from radiosim.marks import rule
from radiosim.signals.course import CONSTANT, COUNTER, LOOKAROUND, SINE, STEPS, Points
from radiosim.signals.formulas import constant_at, count_at, look_at, sine_at, step_at
from radiosim.signals.recorded import table_at
from radiosim.trace import is_noise
from radiosim.units import NS_PER_S


class FieldState:
    """One field of one stream; nothing of it changes in a start."""

    kind: int
    """Kind of the field's signal; see signals/course.py."""
    numbers: list[float]
    first: int
    """Where its points begin among those of all fields, and how many there are."""
    count: int
    every_ns: int
    phase_ns: int
    """Phase of the field's sensor; see engine/payload.py."""
    float_bits: int
    """Bits of a float on the wire; see layout/field.py."""
    scale: float
    neutral: float
    offset: float
    low: float
    high: float
    bits: int
    is_signed: int
    key_low: int
    key_high: int
    """Key of what it says in frames out of noise."""


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
def sent_number(f: FieldState, points: Points, values_frame: int, values_ns: int) -> float:
    """The number on the wire in the field of a frame."""
    if is_noise(values_frame):
        return noise_number(
            values_frame, f.bits, f.is_signed, f.float_bits, f.offset, f.key_low, f.key_high
        )
    taken_ns = taken_at(values_ns, f.every_ns, f.phase_ns)
    value = signal_at(f, points, taken_ns / NS_PER_S, values_frame)
    return wire_number(value, f.float_bits, f.scale, f.neutral, f.offset, f.low, f.high)


@rule
def said(f: FieldState, points: Points, values_frame: int, values_ns: int) -> float:
    """What the receiver's program finds in the field of a frame, quantised as it travelled."""
    number = sent_number(f, points, values_frame, values_ns)
    return (number - f.offset) * f.scale + f.neutral


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


class Scale(NamedTuple):
    """How one output turns a value into a level: a servo's pulse in ns, else the value itself."""

    low: float
    high: float
    has_pulses: int
    first_ns: float
    """Pulse at the lowest value."""
    last_ns: float
    """Pulse at the highest."""
    least_ns: float
    most_ns: float
    """Pulses are kept inside these two."""


@rule
def level_of(s: Scale, mixed: float) -> float:
    """Level of a mixed value, pulses in whole ns."""
    value = min(max(mixed, s.low), s.high)
    if s.has_pulses == 0:
        return value
    pulse_ns = s.first_ns + (value - s.low) / (s.high - s.low) * (s.last_ns - s.first_ns)
    return float(round(min(max(pulse_ns, s.least_ns), s.most_ns)))


class ServoState:
    """Where a servo stands."""

    exists: int
    first_us: float
    last_us: float
    """Pulses at the two ends of its travel."""
    travel_deg: float
    band_deg: float
    """The change of angle that it does not follow."""
    degrees_per_ns: float
    is_placed: int
    """Whether the servo has had a pulse, so that its place is known."""
    angle: float
    goal: float
    at_ns: int


@rule
def angle_of(s: ServoState, pulse_us: float) -> float:
    """Where a pulse of this width sends the servo, degrees from one end of its travel."""
    share = (pulse_us - s.first_us) / (s.last_us - s.first_us)
    return min(max(share, 0.0), 1.0) * s.travel_deg


@rule
def moved(angle: float, target: float, most: float) -> float:
    """`angle` moved towards `target` by at most `most`."""
    return angle + min(max(target - angle, -most), most)


@rule
def turn(s: ServoState, now: int) -> None:
    """Turns the servo towards its goal until now."""
    s.angle = moved(s.angle, s.goal, (now - s.at_ns) * s.degrees_per_ns)
    s.at_ns = now


@rule
def follow_pulse(s: ServoState, now: int, target: float) -> None:
    """A pulse that ends now asks for an angle; the first places it: nobody knows where it stood."""
    if s.is_placed == 0:
        s.is_placed = 1
        s.angle = s.goal = target
        s.at_ns = now
        return
    turn(s, now)
    if abs(target - s.goal) > s.band_deg:
        s.goal = target
