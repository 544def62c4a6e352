"""The number types of the wire: how wide they are and what they can hold."""

import math
import struct
import sys
from dataclasses import dataclass
from typing import Literal

Kind = Literal["unsigned", "signed", "float"]

F32_MAX = (2.0 - 2.0**-23) * 2.0**127
"""Largest finite IEEE 754 single."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WireType:
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
