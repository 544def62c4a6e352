"""Frames to test a firmware with: numbers in the fields, and the bytes they come to."""

from dataclasses import dataclass

from radiosim.chance import draw_below, key_of
from radiosim.layout.codec import codec_of
from radiosim.layout.field import Field, nearest_f32
from radiosim.layout.layout import Layout

DRAWN = 8
"""Frames with drawn numbers, after those at rest and at the ends."""
_MOST_DRAWN = 1 << 62
_FLOAT_STEPS = 1 << 20


@dataclass(frozen=True, slots=True, kw_only=True)
class Vector:
    """One frame."""

    name: str
    """What it shows."""
    numbers: tuple[int | float, ...]
    """Numbers on the wire, one a field."""
    values: tuple[float, ...]
    """Values in the fields' own units."""
    data: bytes
    """The frame."""


def vectors(layout: Layout) -> tuple[Vector, ...]:
    """The frames at rest, at both ends, with one field at its end each, and drawn ones."""
    rest = [_rest(field) for field in layout.fields]
    ends = [_ends(field) for field in layout.fields]
    made = {
        "all at rest": rest,
        "all lowest": [low for low, _ in ends],
        "all highest": [high for _, high in ends],
    }
    for number, field in enumerate(layout.fields):
        for word, end in zip(("lowest", "highest"), ends[number], strict=True):
            made[f"{field.name} {word}"] = [*rest[:number], end, *rest[number + 1 :]]
    for number in range(DRAWN):
        made[f"drawn {number + 1}"] = [_drawn(field, number) for field in layout.fields]
    return tuple(_vector(layout, name, numbers) for name, numbers in made.items())


def _vector(layout: Layout, name: str, numbers: list[int | float]) -> Vector:
    return Vector(
        name=name,
        numbers=tuple(numbers),
        values=tuple(
            field.to_value(number) for field, number in zip(layout.fields, numbers, strict=True)
        ),
        data=codec_of(layout).pack(numbers),
    )


def _rest(field: Field) -> int | float:
    return field.to_wire(min(max(field.neutral, field.minimum), field.maximum))


def _ends(field: Field) -> tuple[int | float, int | float]:
    """Both ends of what the wire carries; of a float, those of its range."""
    if field.kind == "float":
        return field.to_wire(field.minimum), field.to_wire(field.maximum)
    return field.raw_range


def _drawn(field: Field, number: int) -> int | float:
    key = key_of(1, number, "vector", field.name)
    if field.kind == "float":
        share = draw_below(key, 0, _FLOAT_STEPS + 1) / _FLOAT_STEPS
        value = field.minimum * (1 - share) + field.maximum * share
        return nearest_f32(value) if field.bits == 32 else value
    low, high = (int(end) for end in field.raw_range)
    return low + draw_below(key, 0, min(high - low + 1, _MOST_DRAWN))
