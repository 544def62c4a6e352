"""Bytes of frames against C's rules, and against `struct` and `ctypes`.

Source: Arm, "Procedure Call Standard for the Arm Architecture" (natural alignment, bit fields from
the lowest bit up); the examples are derived from it. `ctypes` lays structures out as the host's C
compiler does, whose rules are the same for these types on 64-bit Linux.
"""

import ctypes
import struct
import sys
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.errors import LayoutError
from radiosim.layout import FieldDescription, Layout, LayoutDescription, lay_out
from radiosim.layout.codec import codec_of
from tests.reference.outside import DERIVED, SECOND, check, outside
from tests.reference.sources import AAPCS32, FACTS, LIBRARY

C_TYPES: dict[str, Any] = {
    "u8": ctypes.c_uint8,
    "u16": ctypes.c_uint16,
    "u32": ctypes.c_uint32,
    "u64": ctypes.c_uint64,
    "i8": ctypes.c_int8,
    "i16": ctypes.c_int16,
    "i32": ctypes.c_int32,
    "i64": ctypes.c_int64,
    "f32": ctypes.c_float,
    "f64": ctypes.c_double,
}
LETTERS = dict(zip(C_TYPES, "BHIQbhiqfd", strict=True))
needs_little_end_first = pytest.mark.skipif(
    sys.byteorder != "little", reason="ctypes has the host's byte order"
)


def laid_out(
    types: list[tuple[str, int | None]], *, packed: bool, byte_order: str = "little"
) -> Layout:
    fields = tuple(
        FieldDescription(name=f"f{index}", type=name, bits=bits)  # type: ignore[arg-type]
        for index, (name, bits) in enumerate(types)
    )
    description = LayoutDescription(fields=fields, packed=packed, byte_order=byte_order)  # type: ignore[arg-type]
    return lay_out("x", description)


def described(layout: Layout) -> str:
    offsets = ", ".join(str(field.container_offset_bytes) for field in layout.fields)
    return f"{layout.size_bytes} bytes at {offsets}"


EXAMPLES = [
    ("u8 u16 u32 u8", True, "8 bytes at 0, 1, 3, 7"),
    ("u8 u16 u32 u8", False, "12 bytes at 0, 2, 4, 8"),
    ("u8 f32 u8", True, "6 bytes at 0, 1, 5"),
    ("u8 f32 u8", False, "12 bytes at 0, 4, 8"),
    ("u8 f64 u8", False, "24 bytes at 0, 8, 16"),
    (
        "i16 i16 i16 i16 i16 i16 i16 i16 i16 i16 u8",
        True,
        "21 bytes at 0, 2, 4, 6, 8, 10, 12, 14, 16, 18, 20",
    ),
]


@outside(
    "size and offsets of the printed examples, packed (alignment 1) and natural",
    source=f"{AAPCS32.key}; {FACTS.at('14')}",
    status=DERIVED,
)
@pytest.mark.parametrize(("types", "packed", "printed"), EXAMPLES)
def test_examples_are_laid_out_as_printed(types: str, packed: bool, printed: str) -> None:
    layout = laid_out([(name, None) for name in types.split()], packed=packed)

    check.same(described(layout), printed)


@outside(
    "bytes of ten 32-bit ints and a u8, as the refusal has them",
    source=f"{AAPCS32.key}; {FACTS.at('14')}",
    status=DERIVED,
    unit="bytes",
)
def test_ten_ints_and_a_byte_do_not_fit_into_a_frame() -> None:
    with pytest.raises(LayoutError, match="at most 32 bytes") as refused:
        laid_out([*[("i32", None)] * 10, ("u8", None)], packed=False)

    check.same(int(str(refused.value).split("got ")[1].split(",")[0]), 44)


@st.composite
def frames(draw: st.DrawFn) -> tuple[list[str], list[int | float]]:
    """Types of up to 4 fields, and a number for each."""
    types = draw(st.lists(st.sampled_from(sorted(C_TYPES)), min_size=1, max_size=4))
    return types, [draw(number_of(name)) for name in types]


def number_of(name: str) -> st.SearchStrategy[Any]:
    bits = int(name[1:])
    if name[0] == "f":
        return st.floats(width=bits, allow_nan=False, allow_infinity=False)  # type: ignore[call-overload]
    low = -(1 << bits - 1) if name[0] == "i" else 0
    return st.integers(low, low + (1 << bits) - 1)


@outside(
    "bytes of random packed frames, both byte orders", source=LIBRARY.at("struct"), status=SECOND
)
@given(frames(), st.sampled_from(["little", "big"]))
def test_packed_frames_have_the_bytes_of_struct(
    frame: tuple[list[str], list[int | float]], byte_order: str
) -> None:
    types, numbers = frame
    layout = laid_out([(name, None) for name in types], packed=True, byte_order=byte_order)
    order = "<" if byte_order == "little" else ">"

    theirs = struct.pack(order + "".join(LETTERS[name] for name in types), *numbers)

    check.agree(codec_of(layout).pack(numbers), theirs)


@outside("values of random packed frames, read back", source=LIBRARY.at("struct"), status=SECOND)
@given(frames(), st.sampled_from(["little", "big"]))
def test_packed_frames_are_read_as_struct_reads_them(
    frame: tuple[list[str], list[int | float]], byte_order: str
) -> None:
    types, numbers = frame
    layout = laid_out([(name, None) for name in types], packed=True, byte_order=byte_order)
    order = "<" if byte_order == "little" else ">"
    letters = order + "".join(LETTERS[name] for name in types)
    sent = struct.pack(letters, *numbers)

    check.agree(codec_of(layout).unpack(sent), struct.unpack(letters, sent))


def structure(fields: list[tuple[Any, ...]], pack: int = 0) -> Any:
    """A ctypes structure."""
    members = {"_fields_": [(f"f{i}", *field) for i, field in enumerate(fields)]}
    return type("Frame", (ctypes.Structure,), {"_pack_": pack} | members if pack else members)


@needs_little_end_first
@pytest.mark.parametrize("packed", [True, False])
@outside(
    "bytes of random structures, packed and natural", source=LIBRARY.at("ctypes"), status=SECOND
)
@given(frames())
def test_structures_have_the_bytes_of_ctypes(
    packed: bool, frame: tuple[list[str], list[int | float]]
) -> None:
    types, numbers = frame
    layout = laid_out([(name, None) for name in types], packed=packed)
    theirs = structure([(C_TYPES[name],) for name in types], 1 if packed else 0)

    check.agree(codec_of(layout).pack(numbers), bytes(theirs(*numbers)))
    check.agree(
        [field.container_offset_bytes for field in layout.fields],
        [getattr(theirs, f"f{i}").offset for i in range(len(types))],
    )


@st.composite
def bit_fields(draw: st.DrawFn) -> tuple[str, list[int], list[int]]:
    """A type, the widths of up to 8 bit fields of it, and a number for each."""
    name = draw(st.sampled_from(["u8", "u16", "u32", "u64", "i8", "i16", "i32", "i64"]))
    size = int(name[1:])
    widths = draw(st.lists(st.integers(1, size), min_size=1, max_size=4 if size == 64 else 8))
    lows = [-(1 << bits - 1) if name[0] == "i" else 0 for bits in widths]
    numbers = [draw(st.integers(low, low + (1 << bits) - 1)) for low, bits in zip(lows, widths)]  # noqa: B905
    return name, widths, numbers


@needs_little_end_first
@outside("bytes of random bit fields of one type", source=LIBRARY.at("ctypes"), status=SECOND)
@given(bit_fields())
def test_bit_fields_have_the_bytes_of_ctypes(frame: tuple[str, list[int], list[int]]) -> None:
    name, widths, numbers = frame
    layout = laid_out([(name, bits) for bits in widths], packed=False)

    theirs = bytes(structure([(C_TYPES[name], bits) for bits in widths])(*numbers))

    check.agree(codec_of(layout).pack(numbers), theirs)
    check.agree(codec_of(layout).unpack(theirs), tuple(numbers))
