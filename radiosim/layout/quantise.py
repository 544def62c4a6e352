"""What a value comes to after a trip over the wire; apart from `field.py`, since it loads numpy."""

import functools
import math

import numpy as np

from radiosim.layout.field import Field
from radiosim.marks import rule

EXACT_BITS = 53
"""Whole numbers up to this width are exact in a double; wider ones are rounded to it here."""
Wire = tuple[int, float, float, float, float, float]


@rule
def quantised(
    value: float,
    float_bits: int,
    scale: float,
    neutral: float,
    offset: float,
    low: float,
    high: float,
) -> float:
    """`field.to_value(field.to_wire(value))` to the last bit, for a value that the field takes."""
    steps = (value - neutral) / scale
    if float_bits > 0:
        held = min(max(steps + offset, low), high)
        if float_bits == 32:
            held = float(np.float32(held))
        return (held - offset) * scale + neutral
    rest = abs(steps) % 1.0
    whole = abs(steps) - rest + (1.0 if rest >= 0.5 else 0.0)
    wire = min(max(math.copysign(whole, steps) + offset, low), high)
    return (wire - offset) * scale + neutral


@functools.lru_cache(maxsize=256)
def wire_of(field: Field) -> Wire:
    """What `quantised` needs to know of a field, in its order."""
    low, high = field.raw_range
    float_bits = field.bits if field.kind == "float" else 0
    return float_bits, field.scale, field.neutral, field.offset, float(low), float(high)
