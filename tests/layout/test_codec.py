"""Frames to bytes and back."""

import ctypes
import math
import re
import struct
import subprocess
import sys
from typing import Any, Literal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.errors import LayoutError
from radiosim.layout import Codec, FieldDescription, Layout, LayoutDescription, codec_of, lay_out
from radiosim.layout.field import WIRE_TYPES
from tests.layout.layout_strategies import layouts, layouts_with_wires

# Each random layout is compiled, and the first loads construct: no time limit on an example.

STRUCT_CODES = {
    "u8": "B",
    "u16": "H",
    "u32": "I",
    "u64": "Q",
    "i8": "b",
    "i16": "h",
    "i32": "i",
    "i64": "q",
    "f32": "f",
    "f64": "d",
}


def type_of(container_bits: int, kind: str) -> str:
    return f"{kind[0]}{container_bits}".replace("s", "i")


def drive(**keys: Any) -> Layout:
    fields = (
        FieldDescription(name="count", type="u8"),
        FieldDescription(name="throttle", type="i16", scale=0.001, min=-1.0, max=1.0),
        FieldDescription(name="steer", type="u8", scale=0.008, offset=127, min=-1.0, max=1.0),
        FieldDescription(name="lamp", type="u8", bits=1),
    )
    return lay_out("drive_v1", LayoutDescription(fields=fields, **keys))


def description(types: list[str], **keys: Any) -> LayoutDescription:
    fields = tuple(
        FieldDescription(name=f"f{index}", type=name)  # type: ignore[arg-type]
        for index, name in enumerate(types)
    )
    return LayoutDescription(fields=fields, **keys)


@given(layouts_with_wires())
def test_unpacking_is_the_mirror_image_of_packing(case: tuple[Layout, tuple[Any, ...]]) -> None:
    layout, wires = case
    codec = Codec(layout)

    data = codec.pack(wires)

    assert len(data) == layout.size_bytes
    assert codec.unpack(data) == wires


@given(layouts(), st.data())
def test_packing_is_the_mirror_image_of_unpacking(layout: Layout, data: st.DataObject) -> None:
    codec = Codec(layout)
    zero = codec.pack([0] * len(layout.fields))
    wires = list(codec.unpack(zero))
    index = data.draw(st.integers(0, len(wires) - 1))
    if layout.fields[index].kind != "float":
        wires[index] = int(layout.fields[index].raw_range[1])

    again = codec.unpack(codec.pack(wires))

    assert zero == bytes(layout.size_bytes)
    assert list(again) == wires


@given(layouts_with_wires())
def test_whole_fields_lie_as_python_struct_lays_them(case: tuple[Layout, tuple[Any, ...]]) -> None:
    # Second opinion: Python's struct, one number at a time at the field's own offset.
    layout, wires = case
    data = Codec(layout).pack(wires)
    order = "<" if layout.byte_order == "little" else ">"

    for field, wire in zip(layout.fields, wires, strict=True):
        if not field.is_bit_field:
            code = STRUCT_CODES[type_of(field.container_bits, field.kind)]
            (read,) = struct.unpack_from(order + code, data, field.container_offset_bytes)
            assert read == wire


@given(layouts_with_wires())
def test_bit_fields_take_their_bits_of_the_container(case: tuple[Layout, tuple[Any, ...]]) -> None:
    # Second opinion: int.from_bytes, shifted by the field's own place.
    layout, wires = case
    data = Codec(layout).pack(wires)

    for field, wire in zip(layout.fields, wires, strict=True):
        if field.is_bit_field:
            start = field.container_offset_bytes
            held = data[start : start + field.container_bits // 8]
            number = int.from_bytes(held, layout.byte_order)
            mask = (1 << field.bits) - 1
            assert number >> field.shift & mask == wire & mask


@st.composite
def layouts_by_bit(draw: st.DrawFn) -> Layout:
    """Bit fields at places of their own, as headers give them: containers of any whole bytes."""
    widths = draw(st.lists(st.integers(1, 32), min_size=1, max_size=8))
    fields, at_bit = [], 0
    for number, width in enumerate(widths):
        at_bit += draw(st.integers(0, 9))
        name = draw(st.sampled_from(["u32", "i32"]))
        fields.append(FieldDescription(name=f"f{number}", type=name, bits=width, at_bit=at_bit))  # type: ignore[arg-type]
        at_bit += width
    return lay_out(
        "x",
        LayoutDescription(
            byte_order=draw(st.sampled_from(["little", "big"])),
            fields=tuple(fields),
            header="frame.h",
            size_bytes=at_bit // 8 + 1,
        ),
        longest_bytes=64,
    )


@given(layouts_by_bit(), st.data())
def test_bit_fields_lie_in_their_container_in_its_byte_order_however_wide_it_is(
    layout: Layout, data: st.DataObject
) -> None:
    """Second opinion: each bit of a byte or a whole container by `int.from_bytes`."""
    wires = [data.draw(st.integers(*map(int, field.raw_range))) for field in layout.fields]
    frame = Codec(layout).pack(wires)

    for field, wire in zip(layout.fields, wires, strict=True):
        first = field.container_offset_bytes
        held = frame[first : first + field.container_bits // 8]
        number = int.from_bytes(held, layout.byte_order)
        assert number >> field.shift & (1 << field.bits) - 1 == wire & (1 << field.bits) - 1
    assert list(Codec(layout).unpack(frame)) == wires


ORDERS: tuple[Literal["little", "big"], ...] = ("little", "big")


def test_a_bit_field_of_three_bytes_is_sent_lowest_byte_first() -> None:
    fields = (FieldDescription(name="f", type="u32", bits=17, at_bit=5),)
    said: dict[str, Any] = {"header": "frame.h", "size_bytes": 3, "fields": fields}
    frames = {
        order: Codec(lay_out("x", LayoutDescription(byte_order=order, **said))).pack([0x1A2B3])
        for order in ORDERS
    }

    # 0x1A2B3 << 5 is 0x345660.
    assert frames["little"].hex() == "605634"
    assert frames["big"].hex() == "345660"


@given(
    st.lists(st.sampled_from(sorted(STRUCT_CODES)), min_size=1, max_size=12).filter(
        lambda types: sum(WIRE_TYPES[name].bits for name in types) <= 256
    ),
    st.sampled_from(["little", "big"]),
)
def test_a_packed_frame_equals_python_struct(types: list[str], byte_order: str) -> None:
    layout = lay_out("x", description(types, byte_order=byte_order))
    wires = [index + 1 for index in range(len(types))]

    codes = "".join(STRUCT_CODES[name] for name in types)
    expected = struct.pack(("<" if byte_order == "little" else ">") + codes, *wires)

    assert Codec(layout).pack(wires) == expected


C_TYPES: dict[str, Any] = {
    "u8": ctypes.c_uint8,
    "u16": ctypes.c_uint16,
    "u32": ctypes.c_uint32,
    "i8": ctypes.c_int8,
    "i16": ctypes.c_int16,
    "i32": ctypes.c_int32,
}
BIT_WIDTHS = st.lists(st.integers(1, 16), min_size=1, max_size=12)


@given(BIT_WIDTHS, st.sampled_from(sorted(C_TYPES)), st.data())
def test_bit_fields_of_one_type_lie_as_in_a_c_struct(
    widths: list[int], type_name: str, data: st.DataObject
) -> None:
    # Second opinion: ctypes, which lays out as the host's C compiler does.
    c_type = C_TYPES[type_name]
    container = WIRE_TYPES[type_name].bits
    widths = [min(width, container) for width in widths]

    class Reference(ctypes.LittleEndianStructure):
        _fields_ = [(f"f{i}", c_type, width) for i, width in enumerate(widths)]

    fields = tuple(
        FieldDescription(name=f"f{i}", type=type_name, bits=width)  # type: ignore[arg-type]
        for i, width in enumerate(widths)
    )
    if ctypes.sizeof(Reference) > 32:
        return
    layout = lay_out("x", LayoutDescription(fields=fields, packed=False))
    wires = [data.draw(st.integers(*map(int, field.raw_range))) for field in layout.fields]

    assert Codec(layout).pack(wires) == bytes(Reference(*wires))


def test_the_wire_carries_value_less_neutral_over_scale_plus_offset() -> None:
    codec = codec_of(drive())

    data = codec.pack_values([7, -0.6, 0.5, 1])

    # −0.6 / 0.001 = −600 = 0xFDA8; 0.5 / 0.008 = 62.5, away from zero 63, + 127 = 190.
    assert data == bytes([7, 0xA8, 0xFD, 190, 1])
    assert codec.values(data) == pytest.approx((7, -0.6, 0.504, 1))


def test_big_byte_order_turns_each_number_round() -> None:
    assert codec_of(drive(byte_order="big")).pack([7, -600, 190, 1]).hex() == "07fda8be01"


def test_padding_is_zero_and_is_not_read() -> None:
    codec = codec_of(lay_out("x", description(["u8", "u32", "u8"], packed=False)))

    data = codec.pack([255, 2**32 - 1, 255])

    assert data.hex() == "ff000000ffffffffff000000"
    assert codec.unpack(b"\xff\xee\xee\xee" + data[4:9] + b"\xee\xee\xee") == (255, 2**32 - 1, 255)


@pytest.mark.parametrize(
    ("wires", "text"),
    [
        ((1, 2, 3), "layout.drive_v1: must have 4 numbers, one a field, got 3"),
        ((1, 2, 3, 0, 5), "layout.drive_v1: must have 4 numbers, one a field, got 5"),
        ((256, 2, 3, 0), "layout.drive_v1.count: must be a whole number 0 to 255, got 256"),
        ((-1, 2, 3, 0), "layout.drive_v1.count: must be a whole number 0 to 255, got -1"),
        (
            (1, 32768, 3, 0),
            "layout.drive_v1.throttle: must be a whole number -32768 to 32767, got 32768",
        ),
        ((1, 2, 3, 2), "layout.drive_v1.lamp: must be a whole number 0 to 1, got 2"),
        ((1.0, 2, 3, 0), "layout.drive_v1.count: must be a whole number 0 to 255, got 1.0"),
        ((True, 2, 3, 0), "layout.drive_v1.count: must be a whole number 0 to 255, got True"),
        (("1", 2, 3, 0), "layout.drive_v1.count: must be a whole number 0 to 255, got '1'"),
        ((None, 2, 3, 0), "layout.drive_v1.count: must be a whole number 0 to 255, got None"),
    ],
)
def test_packing_refuses_what_does_not_fit(wires: tuple[Any, ...], text: str) -> None:
    with pytest.raises(LayoutError, match=f"^{re.escape(text)}$"):
        codec_of(drive()).pack(wires)


@pytest.mark.parametrize("wire", [math.nan, math.inf, 0.1, 2**24 + 1, 1e39, "1", True])
def test_packing_refuses_a_number_that_a_float_cannot_hold(wire: Any) -> None:
    codec = codec_of(lay_out("x", description(["f32"])))

    with pytest.raises(LayoutError, match=r"layout\.x\.f0: must be a number that a 32-bit float"):
        codec.pack([wire])


@pytest.mark.parametrize("size", [0, 4, 6])
def test_unpacking_refuses_bytes_of_another_length(size: int) -> None:
    text = rf"^layout\.drive_v1: must be 5 bytes, got {size}$"

    with pytest.raises(LayoutError, match=text):
        codec_of(drive()).unpack(bytes(size))


def test_packing_values_refuses_one_out_of_its_range() -> None:
    text = r"^layout\.drive_v1\.throttle: must be -1 to 1, got 1\.5$"

    with pytest.raises(LayoutError, match=text):
        codec_of(drive()).pack_values([0, 1.5, 0, 0])


def test_packing_values_refuses_surplus_values() -> None:
    with pytest.raises(LayoutError, match="must have 4 values, one a field, got 5"):
        codec_of(drive()).pack_values([0, 0, 0, 0, 0])


def test_equal_layouts_share_a_codec() -> None:
    assert codec_of(drive()) is codec_of(drive())


def test_importing_layout_does_not_load_construct() -> None:
    code = "import sys, radiosim.layout; sys.exit('construct' in sys.modules)"

    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
