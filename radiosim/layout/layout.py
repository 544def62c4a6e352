"""A frame laid out: every field in its place, every bit with its owner."""

import functools
from collections.abc import Sequence
from typing import Any, Literal

import msgspec

from radiosim.errors import LayoutError
from radiosim.layout.description import (
    FieldDescription,
    LayoutDescription,
    description_problems,
    value_range,
)
from radiosim.layout.field import WIRE_TYPES, Field


class Place(msgspec.Struct, frozen=True, kw_only=True):
    """Place of one field in the frame."""

    container_offset_bytes: int
    """First byte of the container."""
    container_bits: int
    """Width of the container; a multiple of 8."""
    shift: int
    """Lowest bit of the field in the container's number."""


def place(
    fields: Sequence[FieldDescription], *, is_packed: bool
) -> tuple[tuple[Place, ...], int, int]:
    """Place of each field, size of the frame in bytes, and padding bytes in it.

    A run of bit fields of one type fills its container from the lowest bit up and never straddles
    two. Not packed: a container starts at a multiple of its own size, and the frame's size is a
    multiple of the largest. Source of both: Arm, Procedure Call Standard for the Arm Architecture.
    """
    places: list[Place] = []
    end = padding = start = used_bits = 0
    largest = 1
    open_type = ""  # type of the bit-field container that still has room
    for field in fields:
        width = WIRE_TYPES[field.type].bits
        bits = field.bits or width
        if field.bits is None or field.type != open_type or used_bits + bits > width:
            size = width // 8
            gap = 0 if is_packed else -end % size
            start, end, used_bits = end + gap, end + gap + size, 0
            padding += gap
            largest = max(largest, size)
        places.append(Place(container_offset_bytes=start, container_bits=width, shift=used_bits))
        used_bits += bits
        open_type = field.type if field.bits is not None else ""
    tail = 0 if is_packed else -end % largest
    return tuple(places), end + tail, padding + tail


def place_at(fields: Sequence[FieldDescription], size_bytes: int) -> tuple[tuple[Place, ...], int]:
    """Place of each field that has its `at_bit` (lowest byte first), and padding bytes.

    Bit fields whose bytes overlap share a container, however many bytes that makes.
    """
    spans = [_bytes_of(field) for field in fields]
    containers: list[tuple[int, int]] = []
    for first, end in sorted(set(spans)):
        if containers and first < containers[-1][1]:
            containers[-1] = (containers[-1][0], max(end, containers[-1][1]))
        else:
            containers.append((first, end))
    places = []
    for field, (first, _) in zip(fields, spans, strict=True):
        start, end = next(c for c in reversed(containers) if c[0] <= first)
        places.append(
            Place(
                container_offset_bytes=start,
                container_bits=8 * (end - start),
                shift=(field.at_bit or 0) - 8 * start,
            )
        )
    used = sum(end - start for start, end in containers)
    return tuple(places), size_bytes - used


def _bytes_of(field: FieldDescription) -> tuple[int, int]:
    """First byte that a field touches, and the one after its last."""
    at_bit = field.at_bit or 0
    bits = field.bits or WIRE_TYPES[field.type].bits
    return at_bit // 8, (at_bit + bits + 7) // 8


LONGEST_PAYLOAD_BYTES = 32
"""Bytes of payload a frame can have (facts 1: 0 to 32, the layout's share of it at least 1)."""


class Layout(msgspec.Struct, frozen=True, kw_only=True):
    """The fields of a frame and the bytes they take."""

    name: str
    """Key of the layout in the scenario's `layout` table."""
    byte_order: Literal["little", "big"]
    """Which byte of a number goes first."""
    packed: bool
    """Are there no gaps between the fields?"""
    fields: tuple[Field, ...]
    """Fields in the order in which they are sent."""
    size_bytes: int
    """Bytes of the whole frame, padding included."""
    padding_bytes: int
    """Bytes that carry nothing; sent as zero."""

    def index_of(self, field: str) -> int:
        """Position of a field by name; LayoutError naming the fields there are if unknown."""
        for index, candidate in enumerate(self.fields):
            if candidate.name == field:
                return index
        names = ", ".join(candidate.name for candidate in self.fields)
        raise LayoutError(((f"layout.{self.name}", f"must be one of {names}, got '{field}'"),))


def lay_out(
    name: str, description: LayoutDescription, *, longest_bytes: int = LONGEST_PAYLOAD_BYTES
) -> Layout:
    """Layout of a description; LayoutError with every problem if it cannot be one.

    A description that names a C header must have been filled in from it (`described`).
    """
    # A list or a table is no key, its items are.
    said = msgspec.structs.asdict(description)
    said |= {"fields": tuple(said["fields"]), "convert": tuple(said["convert"].items())}
    return _laid_out(name, longest_bytes, **said)


@functools.lru_cache(maxsize=64)
def _laid_out(name: str, longest_bytes: int, **said: Any) -> Layout:
    """Laid out once: every start of a study asks again."""
    description = LayoutDescription(**said | {"convert": dict(said["convert"])})
    problems = description_problems(name, description)
    if problems:
        raise LayoutError(problems)
    if description.size_bytes is None:
        places, size_bytes, padding_bytes = place(description.fields, is_packed=description.packed)
    else:
        size_bytes = description.size_bytes
        places, padding_bytes = place_at(description.fields, size_bytes)
    if size_bytes > longest_bytes:
        gaps = f", {padding_bytes} of them padding" if padding_bytes else ""
        text = f"must be at most {longest_bytes} bytes in all, got {size_bytes}{gaps}"
        key = "struct" if description.header else "fields"
        raise LayoutError(((f"layout.{name}.{key}", text),))
    return Layout(
        name=name,
        byte_order=description.byte_order,
        packed=description.packed,
        fields=tuple(
            _field(name, field, where)
            for field, where in zip(description.fields, places, strict=True)
        ),
        size_bytes=size_bytes,
        padding_bytes=padding_bytes,
    )


def _field(layout: str, field: FieldDescription, where: Place) -> Field:
    """A described field at its place."""
    wire_type = WIRE_TYPES[field.type]
    lowest, highest = value_range(field, wire_type)
    return Field(
        layout=layout,
        name=field.name,
        kind=wire_type.kind,
        container_bits=where.container_bits,
        bits=field.bits or wire_type.bits,
        is_bit_field=field.bits is not None,
        container_offset_bytes=where.container_offset_bytes,
        shift=where.shift,
        scale=field.scale,
        neutral=field.neutral,
        offset=field.offset,
        minimum=lowest if field.min is None else field.min,
        maximum=highest if field.max is None else field.max,
    )


def plain_layout(name: str, payload_bytes: int) -> Layout:
    """What stands for `payload_bytes = N`: a field `value` from -1 to 1, and spare bytes.

    Raises LayoutError unless N is 1 to 32.
    """
    if not 1 <= payload_bytes <= LONGEST_PAYLOAD_BYTES:
        text = f"must be 1 to {LONGEST_PAYLOAD_BYTES} bytes, got {payload_bytes}"
        raise LayoutError(((f"layout.{name}", text),))
    if payload_bytes == 1:
        value = FieldDescription(name="value", type="i8", scale=1 / 127, min=-1.0, max=1.0)
    else:
        value = FieldDescription(name="value", type="i16", scale=1 / 32767, min=-1.0, max=1.0)
    spares = tuple(
        FieldDescription(name=f"spare_{number}", type="u8")
        for number in range(1, payload_bytes - 1)
    )
    return lay_out(name, LayoutDescription(fields=(value, *spares)))


Owner = tuple[int, int]
"""Number of a field in its layout, and a bit of it from the lowest."""


def bits_of(field: Field, byte_order: str) -> tuple[int, ...]:
    """Bit of the frame (byte · 8 + bit in the byte) that holds each bit of a field."""
    first, count = field.container_offset_bytes, field.container_bits // 8
    places = []
    for bit in range(field.shift, field.shift + field.bits):
        byte = bit // 8 if byte_order == "little" else count - 1 - bit // 8
        places.append(8 * (first + byte) + bit % 8)
    return tuple(places)


def owners(layout: Layout) -> tuple[Owner | None, ...]:
    """Owner of every bit of a layout's frame; None for padding."""
    found: list[Owner | None] = [None] * (8 * layout.size_bytes)
    for number, field in enumerate(layout.fields):
        for bit, place in enumerate(bits_of(field, layout.byte_order)):
            found[place] = (number, bit)
    return tuple(found)


def unused_bits(layout: Layout) -> int:
    """Bits of a frame that carry nothing."""
    return sum(owner is None for owner in owners(layout))
