"""Which bit of a frame belongs to which bit of which field."""

from radiosim.layout.field import Field
from radiosim.layout.layout import Layout

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
