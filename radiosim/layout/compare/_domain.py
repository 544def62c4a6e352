"""The numbers that a transmitter may put into a field, all of them or a stated choice."""

import struct
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from radiosim.layout.field import Field

EXHAUSTIVE = 1 << 16
"""Largest number of combinations of which each is tried."""
_GOLDEN = 0.6180339887498949
"""Fraction whose multiples spread most evenly over 0…1 (the golden ratio's)."""

Raws = npt.NDArray[np.uint64]
"""Bits of a field as one unsigned number, for each of some frames."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tried:
    """Frames to try: the bits of each field that matters, side by side."""

    raws: dict[int, Raws]
    """Raw values by field number; -1 for bits that nobody set."""
    is_all: bool
    """Are these all frames that there can be?"""


def tried(fields: dict[int, Field], unknown_bits: int) -> Tried:
    """All combinations of what the fields may hold, or, beyond 65,536, a choice.

    The choice: every combination of each field's own edges (its ends, rest, zero, one, powers of
    two and their neighbours) as far as 65,536 go, and 65,536 frames spread evenly over all.
    """
    counts = {number: _count(field) for number, field in fields.items()}
    if unknown_bits:
        counts[-1] = 1 << unknown_bits
    total = 1
    for count in counts.values():
        total *= count
    if total <= EXHAUSTIVE:
        grids = [
            _unknown(unknown_bits) if number < 0 else _all(fields[number]) for number in counts
        ]
        return Tried(raws=_crossed(list(counts), grids), is_all=True)
    edges = [
        _edges_of_bits(unknown_bits) if number < 0 else _edges(fields[number]) for number in counts
    ]
    crossed = _crossed(list(counts), _thinned(edges))
    spread = {
        number: _spread(fields.get(number), count, position)
        for position, (number, count) in enumerate(counts.items())
    }
    joined = {number: np.concatenate([crossed[number], spread[number]]) for number in counts}
    return Tried(raws=joined, is_all=False)


def legal_wires(field: Field) -> tuple[int, int]:
    """Lowest and highest number on the wire between a whole-number field's ends."""
    ends = (field.to_wire(field.minimum), field.to_wire(field.maximum))
    return int(min(ends)), int(max(ends))


def _count(field: Field) -> int:
    if field.kind == "float":
        return 1 << field.bits
    low, high = legal_wires(field)
    return high - low + 1


def _all(field: Field) -> Raws:
    low, high = legal_wires(field)
    mask = (1 << field.bits) - 1
    return np.array([wire & mask for wire in range(low, high + 1)], np.uint64)


def _unknown(bits: int) -> Raws:
    return np.arange(1 << bits, dtype=np.uint64)


def _edges(field: Field) -> Raws:
    if field.kind == "float":
        middle = 0.0 if field.minimum <= 0 <= field.maximum else field.minimum
        values = {field.minimum, field.maximum, field.neutral, middle, 1.0, -1.0, 0.5}
        wires = [
            field.to_wire(value)
            for value in sorted(values)
            if field.minimum <= value <= field.maximum
        ]
        return np.array([_float_raw(wire, field.bits) for wire in wires], np.uint64)
    low, high = legal_wires(field)
    found = {low, high, field.offset, 0, (low + high) // 2}
    for bit in range(field.bits):
        found |= {1 << bit, (1 << bit) - 1, -(1 << bit), -(1 << bit) - 1}
        found |= {low + (1 << bit), high - (1 << bit)}
    mask = (1 << field.bits) - 1
    return np.array([wire & mask for wire in sorted(found) if low <= wire <= high], np.uint64)


def _edges_of_bits(bits: int) -> Raws:
    full = (1 << bits) - 1
    found = {
        0,
        full,
        *(1 << bit for bit in range(bits)),
        *(full ^ (1 << bit) for bit in range(bits)),
    }
    return np.array(sorted(found), np.uint64)


def _float_raw(wire: float, bits: int) -> int:
    code = "<f" if bits == 32 else "<d"
    return int.from_bytes(struct.pack(code, wire), "little")


def _thinned(edges: Sequence[Raws]) -> list[Raws]:
    """Edges of each field, the longest lists thinned until all combinations can be tried."""
    kept = list(edges)
    while _product(kept) > EXHAUSTIVE:
        longest = max(range(len(kept)), key=lambda index: len(kept[index]))
        kept[longest] = np.unique(np.concatenate([kept[longest][::2], kept[longest][-1:]]))
        if len(kept[longest]) <= 2 and _product(kept) > EXHAUSTIVE:
            kept = [values[:1] if len(values) <= 2 else values for values in kept]
    return kept


def _product(lists: Sequence[Raws]) -> int:
    total = 1
    for values in lists:
        total *= len(values)
    return total


def _crossed(numbers: Sequence[int], grids: Sequence[Raws]) -> dict[int, Raws]:
    if not numbers:
        return {}
    meshed = np.meshgrid(*grids, indexing="ij")
    return {number: grid.ravel() for number, grid in zip(numbers, meshed, strict=True)}


def _spread(field: Field | None, count: int, position: int) -> Raws:
    """65,536 of a field's numbers spread evenly, out of step with those of other positions."""
    step = _GOLDEN ** (position + 1)
    shares = [(0.5 + index * step) % 1.0 for index in range(EXHAUSTIVE)]
    if field is None:
        return np.array([int(share * count) for share in shares], np.uint64)
    if field.kind == "float":
        low, high = field.minimum / 2, field.maximum / 2  # halves: the difference must not overflow
        values = (2 * (low + share * (high - low)) for share in shares)
        return np.array(
            [
                _float_raw(field.to_wire(min(max(v, field.minimum), field.maximum)), field.bits)
                for v in values
            ],
            np.uint64,
        )
    low_wire, _ = legal_wires(field)
    mask = (1 << field.bits) - 1
    return np.array([(low_wire + int(share * count)) & mask for share in shares], np.uint64)
