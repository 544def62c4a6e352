"""Where each field's bits lie: packed, aligned as a 32-bit compiler does, or as told."""

from collections.abc import Sequence
from dataclasses import dataclass

from radiosim.layout.description import FieldDescription
from radiosim.layout.wire import WIRE_TYPES


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
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
