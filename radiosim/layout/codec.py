"""Frames to bytes and back, through a struct.Struct made once for each layout."""

import struct
from collections.abc import Sequence
from functools import lru_cache
from typing import Any

import msgspec

from radiosim.errors import LayoutError
from radiosim.layout.field import Field, nearest_f32
from radiosim.layout.layout import Layout


class _Slot(msgspec.Struct, frozen=True, kw_only=True):
    """Where a field lies among the containers of its frame."""

    container: int
    shift: int
    mask: int
    """Ones over the width of a bit field; 0 for a field that has its container to itself."""
    is_signed: bool

    def taken_from(self, number: int) -> int:
        """The bit field's own number, taken out of its container's."""
        raw = (number >> self.shift) & self.mask
        return raw - self.mask - 1 if self.is_signed and raw > self.mask >> 1 else raw


class Codec:
    """Packs and unpacks the frames of one layout; the two are mirror images.

    `wires` are numbers as they travel, one a field and in the layout's order; `values` are in the
    fields' own units.
    """

    def __init__(self, layout: Layout) -> None:
        self.layout = layout
        offsets = sorted({field.container_offset_bytes for field in layout.fields})
        self._checks = tuple((field.kind == "float", *field.raw_range) for field in layout.fields)
        self._slots, self._containers = _slots(layout, offsets), len(offsets)
        self._has_bit_fields = any(field.is_bit_field for field in layout.fields)
        self._format = struct.Struct(_format(layout))
        self._odd = {
            offsets.index(field.container_offset_bytes): field.container_bits // 8
            for field in layout.fields
            if field.container_bits not in _CODES
        }
        """Bytes of each container that has a width of its own."""

    def pack(self, wires: Sequence[int | float]) -> bytes:
        """Bytes of a frame; LayoutError for numbers too many, too few, or one that does not fit."""
        fields = self.layout.fields
        if len(wires) != len(fields):
            raise self._wrong_size(
                f"must have {len(fields)} numbers, one a field, got {len(wires)}"
            )
        for index, (is_float, low, high) in enumerate(self._checks):
            wire = wires[index]
            # By exact type: True is no number, and numpy's numbers are not for the wire.
            is_right_type = type(wire) is int or (is_float and type(wire) is float)
            if not is_right_type or not low <= wire <= high:
                raise _refusal(fields[index], wire)
            if is_float and not _is_exact(wire, fields[index].bits):
                raise _refusal(fields[index], wire)
        numbers = self._merged(wires) if self._has_bit_fields else wires
        if not self._odd:
            return self._format.pack(*numbers)
        held: list[int | float | bytes] = list(numbers)
        for container, size in self._odd.items():
            held[container] = int(numbers[container]).to_bytes(size, self.layout.byte_order)
        return self._format.pack(*held)

    def unpack(self, data: bytes) -> tuple[int | float, ...]:
        """Numbers of a frame's bytes; LayoutError if there are too many or too few bytes."""
        if len(data) != self.layout.size_bytes:
            raise self._wrong_size(f"must be {self.layout.size_bytes} bytes, got {len(data)}")
        numbers = list(self._format.unpack(data))
        for container in self._odd:
            numbers[container] = int.from_bytes(numbers[container], self.layout.byte_order)
        if not self._has_bit_fields:
            return tuple(numbers)
        return tuple(
            slot.taken_from(numbers[slot.container]) if slot.mask else numbers[slot.container]
            for slot in self._slots
        )

    def pack_values(self, values: Sequence[float]) -> bytes:
        """Bytes of a frame from values; LayoutError for one outside its field's range."""
        fields = self.layout.fields
        if len(values) != len(fields):
            raise self._wrong_size(
                f"must have {len(fields)} values, one a field, got {len(values)}"
            )
        return self.pack(
            [field.to_wire(value) for field, value in zip(fields, values, strict=True)]
        )

    def values(self, data: bytes) -> tuple[float, ...]:
        """Values of a frame's bytes; LayoutError if there are too many or too few bytes."""
        return tuple(
            field.to_value(wire)
            for field, wire in zip(self.layout.fields, self.unpack(data), strict=True)
        )

    def _merged(self, wires: Sequence[int | float]) -> list[int | float]:
        """One number a container, each bit field shifted into its place."""
        numbers: list[Any] = [0] * self._containers
        for slot, wire in zip(self._slots, wires, strict=True):
            if slot.mask:
                numbers[slot.container] |= (int(wire) & slot.mask) << slot.shift
            else:
                numbers[slot.container] = wire
        return numbers

    def _wrong_size(self, text: str) -> LayoutError:
        return LayoutError(((f"layout.{self.layout.name}", text),))


@lru_cache(maxsize=256)
def codec_of(layout: Layout) -> Codec:
    """The codec of a layout, compiled when first asked for."""
    return Codec(layout)


def _slots(layout: Layout, offsets: list[int]) -> tuple[_Slot, ...]:
    """Slot of each field, given the first byte of each container."""
    return tuple(
        _Slot(
            container=offsets.index(field.container_offset_bytes),
            shift=field.shift,
            mask=(1 << field.bits) - 1 if field.is_bit_field else 0,
            is_signed=field.kind == "signed",
        )
        for field in layout.fields
    )


_CODES = {8: "B", 16: "H", 32: "I", 64: "Q"}
"""Letters of the struct module by width; a signed number has the small one."""


def _format(layout: Layout) -> str:
    """A frame as the struct module has it: one member a container, and the padding between them."""
    text = "<" if layout.byte_order == "little" else ">"
    end = 0
    for field in layout.fields:
        start = field.container_offset_bytes
        if start < end:  # a bit field in the container of the one before
            continue
        text += f"{start - end}x{_code_of(field)}"
        end = start + field.container_bits // 8
    return f"{text}{layout.size_bytes - end}x"


def _code_of(field: Field) -> str:
    """The struct module's letter for a field's container; bit fields of C make odd widths."""
    if field.kind == "float":
        return "f" if field.container_bits == 32 else "d"
    code = _CODES.get(field.container_bits, f"{field.container_bits // 8}s")
    return code.lower() if field.kind == "signed" and not field.is_bit_field else code


def _is_exact(wire: int | float, bits: int) -> bool:
    """Can a float of this many bits hold exactly this number, already known to be in range?"""
    held = float(wire)
    return held == wire and (bits == 64 or nearest_f32(held) == held)


def _refusal(field: Field, wire: object) -> LayoutError:
    """What is said about a number that does not fit its field."""
    low, high = field.raw_range
    if field.kind == "float":
        rule = f"must be a number that a {field.bits}-bit float holds exactly"
    else:
        rule = f"must be a whole number {low} to {high}"
    return LayoutError(((f"layout.{field.layout}.{field.name}", f"{rule}, got {wire!r}"),))
