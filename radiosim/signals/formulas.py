"""Kinds of signal that a formula gives, each a value at an instant (rule A7)."""

import math
from collections.abc import Sequence
from typing import Annotated

import msgspec
from msgspec import Meta

from radiosim.described import FIELD_UNIT, key
from radiosim.marks import rule
from radiosim.number_kinds import Degrees, LengthS, TimeS, Value
from radiosim.signals.course import (
    CONSTANT,
    COUNTER,
    LOOKAROUND,
    SINE,
    STEPS,
    Amplitude,
    Course,
    EveryMs,
    Points,
    Span,
    clip,
)
from radiosim.units import NS_PER_S, ns_from_s


@rule
def constant_at(n: Sequence[float]) -> float:
    """The value for ever; n: that value."""
    return n[0]


class Constant(
    msgspec.Struct,
    frozen=True,
    kw_only=True,
    forbid_unknown_fields=True,
    tag_field="kind",
    tag="constant",
):
    """One value for ever."""

    value: Annotated[
        Value | None,
        key(
            "where the control stands; left out: the field's neutral",
            FIELD_UNIT,
            moves=("stream.duplicates", "output.servo_error_deg"),
            measure="print the control's value while it is in that position",
        ),
    ] = None
    every_ms: EveryMs = 0.0

    def value_at(self, seconds: float, frame: int, span: Span) -> float:
        """The value, in the field's own unit."""
        return constant_at(self.course(span).numbers)

    def course(self, span: Span) -> Course:
        """The signal in plain numbers, as its rule takes them."""
        if self.value is None:
            return Course(CONSTANT, (clip(span.neutral, span.minimum, span.maximum),))
        return Course(CONSTANT, (self.value,))

    def extremes(self, span: Span) -> tuple[float, float]:
        """Lowest and highest value it takes."""
        value = self.value_at(0.0, 0, span)
        return value, value


EXACT = 2**53
"""A double counts in whole steps up to here (IEEE 754)."""


@rule
def count_at(n: Sequence[float], frame: int) -> float:
    """The count in a frame; n: first value, values, step, lowest, highest."""
    value = n[0] + (frame % int(n[1])) * n[2]
    return min(max(value, n[3]), n[4])


class Counter(
    msgspec.Struct,
    frozen=True,
    kw_only=True,
    forbid_unknown_fields=True,
    tag_field="kind",
    tag="counter",
):
    """Counts frames on the wire from the lowest number of the field, and wraps at the highest."""

    every_ms: EveryMs = 0.0

    def value_at(self, seconds: float, frame: int, span: Span) -> float:
        """The value in a frame (the first is 0); ValueError if the field cannot count."""
        return count_at(self.course(span).numbers, frame)

    def course(self, span: Span) -> Course:
        """The signal in plain numbers; ValueError if the field cannot count."""
        start = _start(span)
        if not can_count(span):
            raise ValueError(
                "a counter must feed a field of whole numbers that counts in exact steps, "
                f"got one that starts at {start:g} and has {span.steps} steps of {span.scale:g}"
            )
        return Course(COUNTER, (start, span.steps, span.scale, span.minimum, span.maximum))

    def extremes(self, span: Span) -> tuple[float, float]:
        """Lowest and highest value it takes; infinite, so as to fit no field that cannot count."""
        if not can_count(span):
            return -math.inf, math.inf
        return span.minimum, span.maximum


def _start(span: Span) -> float:
    """The value with the lowest number on the wire."""
    return span.minimum if span.scale > 0 else span.maximum


def can_count(span: Span) -> bool:
    """Does every step change the value? Not so in a float, nor far from zero in 64 bits."""
    return span.steps > 0 and abs(_start(span) / span.scale) <= EXACT


MOST_POSITIONS = 1_000
"""More are a recording: a CSV table."""


@rule
def step_at(n: Sequence[float], points: Points, first: int, count: int, seconds: float) -> float:
    """The position held; n: how long each is (ns); the positions are points from `first` on."""
    # Whole nanoseconds: 0.3 s must be in the fourth hold of 0.1 s, not at the end of the third.
    held = round(seconds * NS_PER_S) // int(n[0])
    return float(points[first + held % count][0])


class Steps(
    msgspec.Struct,
    frozen=True,
    kw_only=True,
    forbid_unknown_fields=True,
    tag_field="kind",
    tag="steps",
):
    """Each value in turn for `hold_s`, over and over."""

    values: Annotated[
        Annotated[tuple[Value, ...], Meta(min_length=1, max_length=MOST_POSITIONS)] | None,
        key(
            "positions in turn; left out: the field's lowest, then its highest",
            FIELD_UNIT,
            moves=("stream.duplicates", "output.servo_error_deg"),
            measure="print the control's value in each position",
        ),
    ] = None
    hold_s: Annotated[
        LengthS,
        key(
            "time in each position",
            "s",
            moves=("stream.duplicates", "output.servo_error_deg"),
            measure="watch somebody drive: seconds between two changes",
        ),
    ] = 1.0
    every_ms: EveryMs = 0.0

    def value_at(self, seconds: float, frame: int, span: Span) -> float:
        """The value at an instant from the start of the scenario, in the field's own unit."""
        course = self.course(span)
        return step_at(course.numbers, course.points, 0, len(course.points), seconds)

    def course(self, span: Span) -> Course:
        """The signal in plain numbers, as its rule takes them."""
        positions = tuple((value,) for value in self._positions(span))
        return Course(STEPS, (max(1, ns_from_s(self.hold_s)),), positions)

    def extremes(self, span: Span) -> tuple[float, float]:
        """Lowest and highest value it takes."""
        values = self._positions(span)
        return min(values), max(values)

    def _positions(self, span: Span) -> tuple[float, ...]:
        return (span.minimum, span.maximum) if self.values is None else self.values


@rule
def sine_at(n: Sequence[float], seconds: float) -> float:
    """Where in the swing it is; n: period (s), phase (turns), middle, amplitude, ends."""
    period_s, phase, middle, amplitude, low, high = n[0], n[1], n[2], n[3], n[4], n[5]
    turns = seconds / period_s
    # Whole turns off first: the sine of a large angle has lost its last digits.
    value = middle + amplitude * math.sin(2 * math.pi * (turns - math.floor(turns) + phase))
    return min(max(value, low), high)


class Sine(
    msgspec.Struct,
    frozen=True,
    kw_only=True,
    forbid_unknown_fields=True,
    tag_field="kind",
    tag="sine",
):
    """mean + amplitude · sin(2π · seconds / period_s + phase)."""

    period_s: Annotated[
        LengthS,
        key(
            "time of one swing there and back",
            "s",
            moves=("output.servo_error_deg",),
            measure="watch somebody drive: seconds from one side to the other and back",
        ),
    ] = 4.0
    amplitude: Amplitude = None
    mean: Annotated[
        Value | None,
        key(
            "middle of the swing; left out: the middle of the field's range",
            FIELD_UNIT,
            moves=("output.servo_error_deg",),
            measure="record the stick and look at its middle",
        ),
    ] = None
    phase_deg: Annotated[
        Degrees,
        key(
            "where in the swing it begins: 0 in the middle going up, 90 at the top",
            "deg",
            moves=("output.servo_error_deg",),
            measure="choose it: nothing to measure",
        ),
    ] = 0.0
    every_ms: EveryMs = 0.0

    def value_at(self, seconds: float, frame: int, span: Span) -> float:
        """The value at an instant from the start of the scenario, in the field's own unit."""
        return sine_at(self.course(span).numbers, seconds)

    def course(self, span: Span) -> Course:
        """The signal in plain numbers, as its rule takes them."""
        numbers = (self.period_s, self.phase_deg / 360, *self._swing(span), *self.extremes(span))
        return Course(SINE, numbers)

    def extremes(self, span: Span) -> tuple[float, float]:
        """Lowest and highest value it takes."""
        middle, amplitude = self._swing(span)
        if self.amplitude is None and amplitude > 0:
            # Written so that rounding cannot carry an end past the field's.
            return max(middle - amplitude, span.minimum), min(middle + amplitude, span.maximum)
        return middle - amplitude, middle + amplitude

    def _swing(self, span: Span) -> tuple[float, float]:
        middle = span.middle if self.mean is None else self.mean
        return middle, span.reach(middle) if self.amplitude is None else self.amplitude


@rule
def look_at(n: Sequence[float], seconds: float) -> float:
    """Where the head is; n: turn, turn and rest (s), middle, amplitude, lowest, highest."""
    sweep_s, half_s, middle, amplitude, low, high = n[0], n[1], n[2], n[3], n[4], n[5]
    halves = (seconds + sweep_s / 2) / half_s
    is_way_back = math.floor(halves) % 2 == 1
    into_half_s = (halves - math.floor(halves)) * half_s
    turned = min(into_half_s / sweep_s, 1.0)
    side = math.cos(math.pi * turned)  # 1 at the side it left, -1 at the other
    value = middle + amplitude * (-side if is_way_back else side)
    return min(max(value, low), high)


class LookAround(
    msgspec.Struct,
    frozen=True,
    kw_only=True,
    forbid_unknown_fields=True,
    tag_field="kind",
    tag="lookaround",
):
    """Looks left (the lowest value), rests, looks right, rests; every turn is a raised cosine.

    It begins in the middle, half way through a turn to the left.
    """

    amplitude: Amplitude = None
    sweep_s: Annotated[
        LengthS,
        key(
            "time of one turn of the head, from one side to the other",
            "s",
            moves=("output.servo_error_deg",),
            measure="look from one side to the other as in driving, and time it",
        ),
    ] = 3.0
    rest_s: Annotated[
        TimeS,
        key(
            "time it rests at each side",
            "s",
            moves=("stream.duplicates", "output.servo_error_deg"),
            measure="watch somebody drive: how long the head rests at a side",
        ),
    ] = 1.0
    every_ms: EveryMs = 0.0

    def value_at(self, seconds: float, frame: int, span: Span) -> float:
        """The value at an instant from the start of the scenario, in the field's own unit."""
        return look_at(self.course(span).numbers, seconds)

    def course(self, span: Span) -> Course:
        """The signal in plain numbers, as its rule takes them."""
        half_s, amplitude = self.sweep_s + self.rest_s, self._amplitude(span)
        numbers = (self.sweep_s, half_s, span.middle, amplitude, *self.extremes(span))
        return Course(LOOKAROUND, numbers)

    def extremes(self, span: Span) -> tuple[float, float]:
        """Lowest and highest value it takes."""
        if self.amplitude is None:
            return span.minimum, span.maximum
        return span.middle - self.amplitude, span.middle + self.amplitude

    def _amplitude(self, span: Span) -> float:
        return span.reach(span.middle) if self.amplitude is None else self.amplitude
