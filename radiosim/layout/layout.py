"""A frame laid out: every field in its place."""

import functools
from dataclasses import dataclass
from typing import Any, Literal

import msgspec

from radiosim.errors import LayoutError
from radiosim.layout.description import FieldDescription, LayoutDescription
from radiosim.layout.field import Field
from radiosim.layout.placement import Place, place, place_at
from radiosim.layout.problems import problems_of, value_range
from radiosim.layout.wire import WIRE_TYPES

LONGEST_PAYLOAD_BYTES = 32
"""Bytes of payload a frame can have (facts 1: 0 to 32, the layout's share of it at least 1)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """The fields of a frame and the bytes they take."""

    name: str
    """Its key in the scenario's `layout` table."""
    byte_order: Literal["little", "big"]
    """Which byte of a number goes first."""
    packed: bool
    """Are there no gaps between the fields?"""
    fields: tuple[Field, ...]
    """In the order in which they are sent."""
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
    problems = problems_of(name, description)
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
