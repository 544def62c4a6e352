"""Where the fields lie."""

import ctypes
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.layout import FieldDescription, Layout, LayoutDescription, lay_out

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


def laid_out(*types: str | tuple[str, int], packed: bool) -> Layout:
    pairs = [(name, None) if isinstance(name, str) else name for name in types]
    fields = tuple(
        FieldDescription(name=f"f{index}", type=name, bits=bits)  # type: ignore[arg-type]
        for index, (name, bits) in enumerate(pairs)
    )
    return lay_out("x", LayoutDescription(fields=fields, packed=packed))


def offsets(layout: Layout) -> list[int]:
    return [field.container_offset_bytes for field in layout.fields]


# Source: facts 14 (derived from the Procedure Call Standard for the Arm Architecture).
@pytest.mark.parametrize(
    ("types", "packed_size", "natural_size", "natural_offsets"),
    [
        (("u8", "u16", "u32", "u8"), 8, 12, [0, 2, 4, 8]),
        (("u8", "f32", "u8"), 6, 12, [0, 4, 8]),
    ],
)
def test_published_examples_have_their_sizes(
    types: tuple[str, ...], packed_size: int, natural_size: int, natural_offsets: list[int]
) -> None:
    packed, natural = laid_out(*types, packed=True), laid_out(*types, packed=False)

    assert (packed.size_bytes, packed.padding_bytes) == (packed_size, 0)
    assert (natural.size_bytes, natural.padding_bytes) == (natural_size, natural_size - packed_size)
    assert offsets(natural) == natural_offsets


@given(st.lists(st.sampled_from(sorted(C_TYPES)), min_size=1, max_size=4))
def test_natural_alignment_is_that_of_ctypes(types: list[str]) -> None:
    # Second opinion: ctypes aligns as the host's C compiler does.
    class Reference(ctypes.Structure):
        _fields_ = [(f"f{i}", C_TYPES[name]) for i, name in enumerate(types)]

    layout = laid_out(*types, packed=False)

    assert layout.size_bytes == ctypes.sizeof(Reference)
    assert offsets(layout) == [getattr(Reference, f"f{i}").offset for i in range(len(types))]


def test_neighbouring_bit_fields_of_one_type_share_its_bytes_lowest_bit_first() -> None:
    layout = laid_out(("u8", 1), ("u8", 3), ("u8", 4), packed=True)

    assert layout.size_bytes == 1
    assert [field.bit_offset for field in layout.fields] == [0, 1, 4]


def test_a_bit_field_that_does_not_fit_starts_a_new_container() -> None:
    layout = laid_out(("u8", 5), ("u8", 4), packed=True)

    assert [field.bit_offset for field in layout.fields] == [0, 8]
    assert layout.size_bytes == 2


@pytest.mark.parametrize("between", ["u8", ("i8", 2), ("u16", 2)])
def test_another_type_between_bit_fields_closes_their_container(between: Any) -> None:
    layout = laid_out(("u8", 2), between, ("u8", 2), packed=True)

    assert len(set(offsets(layout))) == 3


def test_a_bit_field_aligns_as_its_container_does() -> None:
    layout = laid_out("u8", ("u16", 3), packed=False)

    assert [field.bit_offset for field in layout.fields] == [0, 16]
    assert (layout.size_bytes, layout.padding_bytes) == (4, 1)
