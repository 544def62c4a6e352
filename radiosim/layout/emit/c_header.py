"""A layout as a header for C11 and C++11."""

import re
from collections.abc import Iterator

from radiosim.layout.bits import bits_of
from radiosim.layout.emit.c_struct import c_name, c_type, members, width_for
from radiosim.layout.field import Field
from radiosim.layout.layout import Layout

_HEAD = """\
/* {name}: a frame of {size}. {order}
 *
 * {name}_pack and {name}_unpack work byte by byte: they depend neither on gaps in the
 * struct nor on the order of bytes in memory. The assertions stop a build for a compiler
 * that lays the struct out otherwise.
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
    name = re.sub(r"\W", "_", layout.name, flags=re.ASCII)
    name = f"frame_{name}" if name[:1].isdigit() or not name else name
    guard = name.upper()
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
    for field in layout.fields:
        yield "    {"
        yield from (f"        {line}" for line in _take(field))
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


def _take(field: Field) -> Iterator[str]:
    """Lines that put a field's bits into `raw`."""
    raw = f"uint{width_for(field.bits)}_t"
    member = f"from->{c_name(field.name)}"
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
    for field in layout.fields:
        raw = f"uint{width_for(field.bits)}_t"
        yield "    {"
        yield f"        {raw} raw = 0;"
        for byte, low, bit, count in _pieces(field, layout.byte_order):
            part = f"(from[{byte}] >> {bit})" if bit else f"from[{byte}]"
            part = part if count == 8 else f"({part} & {_mask(count)})"
            part = f"(({raw}){part} << {low})" if low else part
            yield f"        raw = ({raw})(raw | {part});"
        yield from (f"        {line}" for line in _put(field, raw))
        yield "    }"
    yield "}"


def _put(field: Field, raw: str) -> Iterator[str]:
    """Lines that put `raw` into a field."""
    member = f"to->{c_name(field.name)}"
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
