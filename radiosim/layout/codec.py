"""Frames to bytes and back, through a construct Struct compiled once for each layout."""

from collections.abc import Sequence
from functools import lru_cache
from operator import itemgetter
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
        self._keys = tuple(f"at_{offset}" for offset in offsets)
        self._take = itemgetter(*self._keys)
        self._checks = tuple((field.kind == "float", *field.raw_range) for field in layout.fields)
        self._slots = _slots(layout, offsets)
        self._has_bit_fields = any(field.is_bit_field for field in layout.fields)
        self._format = _compiled(layout)

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
        packed: bytes = self._format.build(dict(zip(self._keys, numbers, strict=True)))
        return packed

    def unpack(self, data: bytes) -> tuple[int | float, ...]:
        """Numbers of a frame's bytes; LayoutError if there are too many or too few bytes."""
        if len(data) != self.layout.size_bytes:
            raise self._wrong_size(f"must be {self.layout.size_bytes} bytes, got {len(data)}")
        parsed = self._format.parse(data)
        numbers = self._take(parsed) if len(self._keys) > 1 else (self._take(parsed),)
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
        numbers: list[Any] = [0] * len(self._keys)
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


def _compiled(layout: Layout) -> Any:
    """Compiled construct Struct with one member a container, and the padding between them."""
    import construct  # noqa: PLC0415 - slow to load, and most uses of a layout need no bytes

    members = []
    end = 0
    for field in layout.fields:
        start = field.container_offset_bytes
        if start < end:  # a bit field in the container of the one before
            continue
        if start > end:
            members.append(construct.Padding(start - end))
        members.append(f"at_{start}" / _number(construct, layout, field))
        end = start + field.container_bits // 8
    if layout.size_bytes > end:
        members.append(construct.Padding(layout.size_bytes - end))
    return construct.Struct(*members).compile()


def _number(construct: Any, layout: Layout, field: Field) -> Any:
    """construct's number for a field's container; bit fields of a C struct make odd widths."""
    if field.container_bits in (8, 16, 32, 64):
        return getattr(construct, _construct_name(layout, field))
    return construct.BytesInteger(
        field.container_bits // 8, signed=False, swapped=layout.byte_order == "little"
    )


def _construct_name(layout: Layout, field: Field) -> str:
    """construct's name for the number that holds a field, such as `Int16sl`."""
    order = layout.byte_order[0]
    if field.kind == "float":
        return f"Float{field.container_bits}{order}"
    is_signed = field.kind == "signed" and not field.is_bit_field
    return f"Int{field.container_bits}{'s' if is_signed else 'u'}{order}"


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
