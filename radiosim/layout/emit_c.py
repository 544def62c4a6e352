"""A layout as a header for C11 and C++11, with the struct of the wire's own bytes."""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from radiosim.errors import LayoutError
from radiosim.layout.field import Field
from radiosim.layout.layout import Layout, bits_of
from radiosim.safety import CAUTION

_WIDTHS = (8, 16, 32, 64)
_FLOATS = {32: "float", 64: "double"}
_RESERVED = frozenset(
    re.findall(
        r"\w+",
        """
    alignas alignof and and_eq asm atomic_cancel atomic_commit atomic_noexcept auto bitand bitor
    bool break case catch char char8_t char16_t char32_t class co_await co_return co_yield compl
    concept const const_cast consteval constexpr constinit continue decltype default delete do
    double dynamic_cast else enum explicit export extern false final float for friend goto if
    import inline int long module mutable namespace new noexcept not not_eq nullptr operator or
    or_eq override private protected public reflexpr register reinterpret_cast requires restrict
    return short signed sizeof static static_assert static_cast struct switch synchronized template
    this thread_local throw true try typedef typeid typename typeof typeof_unqual union unsigned
    using virtual void volatile wchar_t while xor xor_eq
    NULL offsetof linux unix i386 arm avr
    memchr memcmp memcpy memmove memset strcat strchr strcmp strcoll strcpy strcspn strerror strlen
    strncat strncmp strncpy strpbrk strrchr strspn strstr strtok strxfrm
        """,
    )
)
"""Words of C and C++, and what the headers and compilers that are used may have as macros."""
_TYPES = re.compile(
    r"(?:u?int(?:_least|_fast)?\d+|u?int(?:max|ptr)|s?size|ptrdiff|max_align|nullptr|wchar|locale"
    r"|errno|rsize)_t"
)
_MACROS = re.compile(r"__\w*|_[A-Z]\w*|\w+_(?:MIN|MAX|C|WIDTH)")


@dataclass(frozen=True, slots=True, kw_only=True)
class Member:
    """A line of the struct."""

    declaration: str
    note: str
    """What stands beside it in a comment."""
    asserts: tuple[str, int] | None
    """Name and first byte, for a member that has bytes to itself."""


def c_names(layout: Layout) -> dict[str, str]:
    """Each field's name as a member: underscores are added to what C, C++ or this header has."""
    name, guard = struct_name(layout)
    taken = {f"{name}_t", f"{name}_pack", f"{name}_unpack"}
    taken |= {f"{guard}_{part}" for part in ("H", "ASSERT", "BYTES")}
    fields = [field.name for field in layout.fields]
    plain = [field for field in fields if not _is_taken(field, taken)]
    taken |= set(plain)
    members = dict.fromkeys(plain, "")
    for field in fields:
        member = field
        while field not in plain and _is_taken(member, taken):
            # A macro that begins with underscores does not end with them.
            member = f"field{member}" if member.startswith("_") else f"{member}_"
        taken.add(member)
        members[field] = member
    return members


def _is_taken(name: str, taken: set[str]) -> bool:
    kinds = (_TYPES, _MACROS)
    return name in _RESERVED or name in taken or any(kind.fullmatch(name) for kind in kinds)


def struct_name(layout: Layout) -> tuple[str, str]:
    """What functions and the type are called after, and what macros are."""
    name = re.sub(r"\W", "_", layout.name, flags=re.ASCII)
    is_free = (
        name and not name[0].isdigit() and name[0] != "_" and not _TYPES.fullmatch(f"{name}_t")
    )
    name = name if is_free else f"frame_{name}"
    return name, name.upper()


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
    names = c_names(layout)
    for field in sorted(layout.fields, key=lambda field: field.bit_offset):
        yield from _gap(at_bit, field.bit_offset, names)
        yield _member(layout, field, names[field.name])
        at_bit = field.bit_offset + field.bits
    yield from _gap(at_bit, 8 * layout.size_bytes, names)


def _gap(at_bit: int, end_bit: int, names: Mapping[str, str]) -> Iterator[Member]:
    """Bits that carry nothing: to the end of the byte, whole bytes, and the rest."""
    while at_bit % 8 and at_bit < end_bit:
        count = min(8 - at_bit % 8, end_bit - at_bit)
        yield Member(declaration=f"uint8_t : {count}", note="", asserts=None)
        at_bit += count
    if count := (end_bit - at_bit) // 8:
        gap = f"gap_{at_bit // 8}"
        while gap in names.values():
            gap += "_"
        yield Member(declaration=f"uint8_t {gap}[{count}]", note="carries nothing", asserts=None)
        at_bit += 8 * count
    if count := end_bit - at_bit:
        yield Member(declaration=f"uint8_t : {count}", note="", asserts=None)


def _member(layout: Layout, field: Field, name: str) -> Member:
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


_HEAD = """\
/* {name}: a frame of {size}. {order}
 *
 * {name}_pack and {name}_unpack work byte by byte: they depend neither on gaps in the
 * struct nor on the order of bytes in memory. The assertions stop a build for a compiler
 * that lays the struct out otherwise.
 *
 * CAUTION: {caution}
 */
#ifndef {guard}_H
#define {guard}_H

#include <stddef.h>
#include <stdint.h>
#include <string.h>

#ifdef __cplusplus
#define {guard}_ASSERT(holds, text) static_assert(holds, text)
#else
#define {guard}_ASSERT(holds, text) _Static_assert(holds, text)
#endif

#define {guard}_BYTES {bytes}
"""


def c_header(layout: Layout) -> str:
    """Text of a header: struct, assertions, pack and unpack.

    Raises LayoutError for a bit field that C cannot hold where it lies.
    """
    name, guard = struct_name(layout)
    orders = {
        "little": "The lowest byte of a number goes first.",
        "big": "The highest byte of a number goes first.",
    }
    size = f"{layout.size_bytes} byte" + ("" if layout.size_bytes == 1 else "s")
    return "\n".join(
        [
            _HEAD.format(
                name=name,
                size=size,
                order=orders[layout.byte_order],
                guard=guard,
                bytes=layout.size_bytes,
                caution=CAUTION,
            ),
            *_struct(layout, name),
            "",
            *_assertions(layout, name, guard),
            "",
            *_pack(layout, name, guard),
            "",
            *_unpack(layout, name, guard),
            "",
            f"#endif /* {guard}_H */",
            "",
        ]
    )


def _struct(layout: Layout, name: str) -> Iterator[str]:
    yield "typedef struct __attribute__((packed)) {"
    for member in members(layout):
        note = f" /* {member.note} */" if member.note else ""
        yield f"    {member.declaration};{note}"
    yield f"}} {name}_t;"


def _assertions(layout: Layout, name: str, guard: str) -> Iterator[str]:
    text = f'"{name}_t is not laid out as the frame"'
    yield f"{guard}_ASSERT(sizeof({name}_t) == {guard}_BYTES, {text});"
    for member in members(layout):
        if member.asserts is not None:
            field, first = member.asserts
            yield f"{guard}_ASSERT(offsetof({name}_t, {field}) == {first}, {text});"
    for bits, kind in ((32, "float"), (64, "double")):
        if any(field.kind == "float" and field.bits == bits for field in layout.fields):
            text = f'"{kind} is not {bits} bits wide"'
            yield f"{guard}_ASSERT(sizeof({kind}) == {bits // 8}, {text});"


def _pack(layout: Layout, name: str, guard: str) -> Iterator[str]:
    yield f"static inline void {name}_pack(const {name}_t *from, uint8_t to[{guard}_BYTES])"
    yield "{"
    yield f"    memset(to, 0, {guard}_BYTES);"
    names = c_names(layout)
    for field in layout.fields:
        yield "    {"
        yield from (f"        {line}" for line in _take(field, f"from->{names[field.name]}"))
        for byte, low, bit, count in _pieces(field, layout.byte_order):
            shifted = f"raw >> {low}" if low else "raw"
            if count == 8:
                whole = f"({shifted})" if low else shifted
                yield f"        to[{byte}] = (uint8_t){whole};"
            else:
                part = f"(({shifted}) & {_mask(count)})" if low else f"(raw & {_mask(count)})"
                part = f"({part} << {bit})" if bit else part
                yield f"        to[{byte}] = (uint8_t)(to[{byte}] | {part});"
        yield "    }"
    yield "}"


def _take(field: Field, member: str) -> Iterator[str]:
    """Lines that put a field's bits into `raw`."""
    raw = f"uint{width_for(field.bits)}_t"
    if field.kind != "float":
        yield f"const {raw} raw = ({raw}){member};"
        return
    yield f"const {c_type(field)} held = {member};"
    yield f"{raw} raw;"
    yield "memcpy(&raw, &held, sizeof raw);"


def _unpack(layout: Layout, name: str, guard: str) -> Iterator[str]:
    yield f"static inline void {name}_unpack(const uint8_t from[{guard}_BYTES], {name}_t *to)"
    yield "{"
    yield "    memset(to, 0, sizeof *to);"
    names = c_names(layout)
    for field in layout.fields:
        raw = f"uint{width_for(field.bits)}_t"
        yield "    {"
        yield f"        {raw} raw = 0;"
        for byte, low, bit, count in _pieces(field, layout.byte_order):
            part = f"(from[{byte}] >> {bit})" if bit else f"from[{byte}]"
            part = part if count == 8 else f"({part} & {_mask(count)})"
            part = f"(({raw}){part} << {low})" if low else part
            yield f"        raw = ({raw})(raw | {part});"
        yield from (f"        {line}" for line in _put(field, raw, f"to->{names[field.name]}"))
        yield "    }"
    yield "}"


def _put(field: Field, raw: str, member: str) -> Iterator[str]:
    """Lines that put `raw` into a field."""
    if field.kind == "float":
        yield f"{c_type(field)} held;"
        yield "memcpy(&held, &raw, sizeof held);"
        yield f"{member} = held;"
        return
    if field.kind == "signed" and field.bits < width_for(field.bits):
        sign = _mask(field.bits, alone=True)
        yield f"raw = ({raw})((raw ^ {sign}) - {sign});"
    yield f"{member} = ({c_type(field)})raw;"


def _pieces(field: Field, byte_order: str) -> Iterator[tuple[int, int, int, int]]:
    """Runs of a field's bits in one byte: (byte, lowest bit of the run, bit in the byte, bits)."""
    places = bits_of(field, byte_order)
    low = 0
    while low < len(places):
        byte, bit = divmod(places[low], 8)
        count = 1
        while (
            low + count < len(places) and places[low + count] == places[low] + count < 8 * byte + 8
        ):
            count += 1
        yield byte, low, bit, count
        low += count


def _mask(bits: int, *, alone: bool = False) -> str:
    """Ones over so many bits, or the highest of them alone."""
    number = 1 << (bits - 1) if alone else (1 << bits) - 1
    suffix = "u" if number < 1 << 16 else "ul" if number < 1 << 32 else "ull"
    return f"0x{number:x}{suffix}"
