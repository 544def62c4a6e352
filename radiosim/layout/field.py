"""Fields, and what a value comes to on the wire."""

import functools
import math
import re
import struct
import sys

import msgspec
import numpy as np

from radiosim.c_header.c_field import Kind
from radiosim.errors import LayoutError
from radiosim.marks import rule

F32_MAX = (2.0 - 2.0**-23) * 2.0**127
"""Largest finite IEEE 754 single."""


class WireType(msgspec.Struct, frozen=True, kw_only=True):
    """A type as C and the scenario file know it."""

    kind: Kind
    bits: int
    """Width in bits; a multiple of 8."""


WIRE_TYPES = {
    "u8": WireType(kind="unsigned", bits=8),
    "u16": WireType(kind="unsigned", bits=16),
    "u32": WireType(kind="unsigned", bits=32),
    "u64": WireType(kind="unsigned", bits=64),
    "i8": WireType(kind="signed", bits=8),
    "i16": WireType(kind="signed", bits=16),
    "i32": WireType(kind="signed", bits=32),
    "i64": WireType(kind="signed", bits=64),
    "f32": WireType(kind="float", bits=32),
    "f64": WireType(kind="float", bits=64),
}
"""Every type of the scenario file by its name."""


def wire_range(kind: Kind, bits: int) -> tuple[int, int] | tuple[float, float]:
    """Lowest and highest number that a field of this kind and width in bits can hold."""
    if kind == "unsigned":
        return 0, (1 << bits) - 1
    if kind == "signed":
        return -(1 << (bits - 1)), (1 << (bits - 1)) - 1
    top = F32_MAX if bits == 32 else sys.float_info.max
    return -top, top


def round_half_away(number: float) -> int:
    """Nearest whole number, halves away from zero as C's `lround`; ValueError unless finite."""
    if not math.isfinite(number):
        raise ValueError(f"only a finite number can be rounded, got {number}")
    whole = math.trunc(number)
    if abs(number - whole) >= 0.5:
        whole += 1 if number > 0 else -1
    return whole


def nearest_f32(number: float) -> float:
    """IEEE 754 single nearest to a number; OverflowError beyond the largest."""
    (single,) = struct.unpack("<f", struct.pack("<f", number))
    return float(single)


_COUNTERS = ("count", "counter", "seq", "sequence", "serial", "packet_number", "frame_number")
_VERSIONS = ("version", "ver", "proto", "protocol", "revision")
_SPARES = ("spare", "reserved", "pad", "padding", "unused", "dummy", "filler")
_PLACES = re.compile(r"(?:_\d+)+\Z")


def is_counter(name: str) -> bool:
    """Does a field count frames, by its name?"""
    return _is_among(name, _COUNTERS)


def is_version(name: str) -> bool:
    """Does a field tell one layout from another, by its name?"""
    return _is_among(name, _VERSIONS)


def is_spare(name: str) -> bool:
    """Does a field carry nothing, by its name?"""
    return _is_among(name, _SPARES)


def array_of(name: str) -> str:
    """The name without the places in arrays that it ends with: `cell` of `cell_0_2`."""
    return _PLACES.sub("", name)


def _is_among(name: str, words: tuple[str, ...]) -> bool:
    """Is a name one of the words, or does it begin or end with one and an underscore?"""
    lower = name.lower().rstrip("0123456789").rstrip("_")
    return any(
        lower == word or lower.startswith(f"{word}_") or lower.endswith(f"_{word}")
        for word in words
    )


NOISE = 1e-6
"""Share of a step by which arithmetic may carry a value past the end of its range."""


class Field(msgspec.Struct, frozen=True, kw_only=True):
    """A field of a layout, with everything a codec, a signal or an output needs to know."""

    layout: str
    """Name of the layout it belongs to."""
    name: str
    """Name of the field, unique in the layout."""
    kind: Kind
    """unsigned, signed or float."""
    container_bits: int
    """Width of the number that holds it."""
    bits: int
    """Width of the field; less than its container's for a bit field."""
    is_bit_field: bool
    """Does it share its container with neighbours?"""
    container_offset_bytes: int
    """First byte of its container in the frame."""
    shift: int
    """Its lowest bit, counted from the lowest bit of the container's number."""
    scale: float
    """What one step on the wire stands for, in the field's own unit."""
    neutral: float
    """Value of a control at rest, in the field's own unit."""
    offset: int
    """Number on the wire at neutral."""
    minimum: float
    """Lowest value, in the field's own unit."""
    maximum: float
    """Highest value, in the field's own unit."""

    @property
    def bit_offset(self) -> int:
        """Bits of the frame before this field (little byte order: before its lowest bit)."""
        return 8 * self.container_offset_bytes + self.shift

    @property
    def raw_range(self) -> tuple[int, int] | tuple[float, float]:
        """Lowest and highest number the wire can hold."""
        return wire_range(self.kind, self.bits)

    @property
    def resolution(self) -> float:
        """Smallest difference that survives the wire, in the field's own unit; 0 for floats."""
        return 0.0 if self.kind == "float" else abs(self.scale)

    @property
    def steps(self) -> int:
        """Distinct numbers on the wire between minimum and maximum; 0 for floats."""
        if self.kind == "float":
            return 0
        return int(abs(self.to_wire(self.maximum) - self.to_wire(self.minimum))) + 1

    def to_wire(self, value: float) -> int | float:
        """Number on the wire for a value in the field's own unit.

        Whole-number fields round to the nearest step, halves away from zero; f32 rounds to the
        nearest single. Raises LayoutError for a value outside minimum..maximum, NaN included.
        """
        slack = NOISE * self.resolution
        if not self.minimum - slack <= value <= self.maximum + slack:
            raise LayoutError(
                (
                    (
                        f"layout.{self.layout}.{self.name}",
                        f"must be {self.minimum:g} to {self.maximum:g}, got {value!r}",
                    ),
                )
            )
        # The ends of the range fit (checked when it was laid out): what is cut is float noise.
        low, high = self.raw_range
        if self.kind == "float":
            exact = exact_wire(value, scale=self.scale, neutral=self.neutral, offset=self.offset)
            held = min(max(exact, low), high)
            return held if self.bits == 64 else nearest_f32(held)
        # The offset is added after rounding, so that halves are judged from neutral.
        steps = exact_wire(value, scale=self.scale, neutral=self.neutral, offset=0)
        return int(min(max(round_half_away(steps) + self.offset, low), high))

    def to_value(self, wire: int | float) -> float:
        """Value in the field's own unit for a number on the wire."""
        return (wire - self.offset) * self.scale + self.neutral


def exact_wire(value: float, *, scale: float, neutral: float, offset: int) -> float:
    """Number on the wire before rounding; infinite if it is beyond every number."""
    return (value - neutral) / scale + offset


EXACT_BITS = 53
"""Whole numbers up to this width are exact in a double; wider ones are rounded to it here."""
Wire = tuple[int, float, float, float, float, float]


@rule
def wire_number(
    value: float,
    float_bits: int,
    scale: float,
    neutral: float,
    offset: float,
    low: float,
    high: float,
) -> float:
    """`field.to_wire(value)` as a float, for a value that the field takes."""
    steps = (value - neutral) / scale
    if float_bits > 0:
        held = min(max(steps + offset, low), high)
        if float_bits == 32:
            held = float(np.float32(held))
        return held
    rest = abs(steps) % 1.0
    whole = abs(steps) - rest + (1.0 if rest >= 0.5 else 0.0)
    return min(max(math.copysign(whole, steps) + offset, low), high)


@functools.lru_cache(maxsize=256)
def wire_of(field: Field) -> Wire:
    """What `wire_number` needs to know of a field, in its order."""
    low, high = field.raw_range
    float_bits = field.bits if field.kind == "float" else 0
    return float_bits, field.scale, field.neutral, field.offset, float(low), float(high)
