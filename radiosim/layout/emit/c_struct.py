"""The struct of an emitted header: the wire's own bytes, as far as a compiler can show them."""

import re
from collections.abc import Iterator
from dataclasses import dataclass

from radiosim.errors import LayoutError
from radiosim.layout.field import Field
from radiosim.layout.layout import Layout

_WIDTHS = (8, 16, 32, 64)
_FLOATS = {32: "float", 64: "double"}
_KEYWORDS = frozenset(
    re.findall(
        r"\w+",
        """
    alignas alignof and asm auto bitand bitor bool break case catch char class compl const
    constexpr continue default delete do double else enum explicit export extern false float
    for friend from goto held if inline int long mutable namespace new not nullptr operator
    or private protected public raw register restrict return short signed sizeof static
    struct switch template this throw to true try typedef typeid typename union unsigned
    using virtual void volatile while xor
        """,
    )
)
"""Words of C and C++, and those that the emitted functions use themselves."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Member:
    """A line of the struct."""

    declaration: str
    note: str
    """What stands beside it in a comment."""
    asserts: tuple[str, int] | None
    """Name and first byte, for a member that has bytes to itself."""


def c_name(name: str) -> str:
    """A field's name as a member of a struct: words of the language get an underscore."""
    return f"{name}_" if name in _KEYWORDS else name


def c_type(field: Field) -> str:
    """The fixed-width type that holds a field outside the frame."""
    if field.kind == "float":
        return _FLOATS[field.bits]
    sign = "" if field.kind == "signed" else "u"
    return f"{sign}int{width_for(field.bits)}_t"


def width_for(bits: int) -> int:
    """Width of the narrowest whole number that holds so many bits."""
    return next(width for width in _WIDTHS if width >= bits)


def members(layout: Layout) -> Iterator[Member]:
    """Lines of a packed struct with each field where the frame has it.

    Raises LayoutError for a bit field that no type can hold where it lies.
    """
    at_bit = 0
    for field in sorted(layout.fields, key=lambda field: field.bit_offset):
        yield from _gap(at_bit, field.bit_offset)
        yield _member(layout, field)
        at_bit = field.bit_offset + field.bits
    yield from _gap(at_bit, 8 * layout.size_bytes)


def _gap(at_bit: int, end_bit: int) -> Iterator[Member]:
    """Bits that carry nothing: to the end of the byte, whole bytes, and the rest."""
    while at_bit % 8 and at_bit < end_bit:
        count = min(8 - at_bit % 8, end_bit - at_bit)
        yield Member(declaration=f"uint8_t : {count}", note="", asserts=None)
        at_bit += count
    if count := (end_bit - at_bit) // 8:
        first = at_bit // 8
        yield Member(
            declaration=f"uint8_t gap_{first}[{count}]", note="carries nothing", asserts=None
        )
        at_bit += 8 * count
    if count := end_bit - at_bit:
        yield Member(declaration=f"uint8_t : {count}", note="", asserts=None)


def _member(layout: Layout, field: Field) -> Member:
    name = c_name(field.name)
    if not field.is_bit_field:
        first = field.container_offset_bytes
        return Member(
            declaration=f"{c_type(field)} {name}", note=_meaning(field), asserts=(name, first)
        )
    bytes_touched = (field.bit_offset % 8 + field.bits + 7) // 8
    if 8 * bytes_touched > _WIDTHS[-1]:
        text = (
            f"must lie in 8 bytes to be a bit field of C, got {field.bits} bits in {bytes_touched}"
        )
        raise LayoutError(((f"layout.{layout.name}.{field.name}", text),))
    sign = "" if field.kind == "signed" else "u"
    return Member(
        declaration=f"{sign}int{width_for(8 * bytes_touched)}_t {name} : {field.bits}",
        note=_meaning(field),
        asserts=None,
    )


def _meaning(field: Field) -> str:
    """What a number stands for; empty if for itself."""
    if (field.scale, field.neutral, field.offset) == (1.0, 0.0, 0):
        return ""
    number = f"(number {'-' if field.offset >= 0 else '+'} {abs(field.offset)})"
    steps = "number" if not field.offset else number
    rest = f" + {field.neutral:g}" if field.neutral else ""
    return f"{steps} * {field.scale:g}{rest}, {field.minimum:g} to {field.maximum:g}"
