"""What an output makes of its fields' numbers, as a straight line in whole numbers of 32 bits."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from radiosim.layout import Field
from radiosim.scenario.structs.output_table import Output

SHIFTS = (16, 8)
"""Bits for the parts of a us, or of a step of a level: whole bytes, the more the better."""
_MOST = (1 << 31) - 1
_NEAR = 0.25
"""How far a line may be off at the ends of its fields' numbers, in us or steps: a half more is lost
as it is rounded, and one would be seen."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """constant + the sum of factor times number, kept between two; all in parts, a half added.

    Without its lowest `shift` bits it is the nearest whole number.
    """

    shift: int
    constant: int
    factors: tuple[int, ...]
    least: int
    most: int


def line_of(fields: Sequence[Field], weights: Sequence[float], output: Output) -> Line | None:
    """The line of an output; None: a field is no whole number, or 32 bits cannot hold it."""
    if any(field.kind == "float" for field in fields):
        return None
    low, high = sorted(output.value)
    first, last = output.pulse_us if output.kind == "servo" else (low, high)
    slope = (last - first) / (high - low)
    factors = [slope * weight * field.scale for field, weight in zip(fields, weights, strict=True)]
    middle = math.fsum(
        weight * (field.neutral - field.offset * field.scale)
        for field, weight in zip(fields, weights, strict=True)
    )
    ends = sorted((first, last))
    if output.kind == "servo":
        least, most = sorted(output.limit_us)
        ends = [min(max(end, least), most) for end in ends]
    furthest = [max(abs(number) for number in field.raw_range) for field in fields]
    lines = (
        _line(shift, (first + slope * (middle - low), *ends), factors, furthest) for shift in SHIFTS
    )
    return next((line for line in lines if line is not None), None)


def _line(
    shift: int, ends: tuple[float, ...], factors: Sequence[float], furthest: Sequence[float]
) -> Line | None:
    """A line in so many parts; None: it is too long for 32 bits, or too far off."""
    parts = 1 << shift
    constant, least, most = (round(number * parts) + parts // 2 for number in ends)
    whole = [round(factor * parts) for factor in factors]
    reach = sum(abs(factor) * far for factor, far in zip(whole, furthest, strict=True))
    off = (abs(factor * parts - near) for factor, near in zip(factors, whole, strict=True))
    off_by = math.fsum(each * far for each, far in zip(off, furthest, strict=True)) / parts
    if max(reach + abs(constant), abs(least), abs(most)) > _MOST or off_by > _NEAR:
        return None
    return Line(shift=shift, constant=constant, factors=tuple(whole), least=least, most=most)
