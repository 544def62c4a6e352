"""Descriptions become layouts, or every problem of theirs is said."""

import ctypes
import math
from typing import Any

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.errors import LayoutError
from radiosim.layout import (
    FieldDescription,
    Layout,
    LayoutDescription,
    codec_of,
    lay_out,
    plain_layout,
)


def field(**keys: Any) -> FieldDescription:
    return FieldDescription(**({"name": "x", "type": "u8"} | keys))


def problems(*fields: FieldDescription, **keys: Any) -> tuple[tuple[str, str], ...]:
    with pytest.raises(LayoutError, match=r"layout\.drive") as caught:
        lay_out("drive", LayoutDescription(fields=fields, **keys))
    return caught.value.problems


@pytest.mark.parametrize(
    ("keys", "key", "text"),
    [
        ({"scale": 0.0}, "scale", "must be a number of 1e-12 or more in size, got 0"),
        ({"scale": math.nan}, "scale", "must be a finite number, got nan"),
        ({"neutral": math.inf}, "neutral", "must be a finite number, got inf"),
        ({"min": -math.inf}, "min", "must be a finite number, got -inf"),
        ({"max": math.nan}, "max", "must be a finite number, got nan"),
        ({"min": 2.0, "max": 1.0}, "min", "must be < 1, got 2"),
        ({"min": 1.0, "max": 1.0}, "min", "must be < 1, got 1"),
        ({"min": 255.0}, "min", "must be < 255, got 255"),
        ({"max": 0.0}, "max", "must be > 0, got 0"),
        (
            {"min": -1.0},
            "min",
            "must be 0 to 255, which is what an unsigned field of 8 bits carries at this scale, "
            "got -1",
        ),
        (
            {"type": "i8", "scale": 0.01, "max": 1.3},
            "max",
            "must be -1.28 to 1.27, which is what a signed field of 8 bits carries at this scale, "
            "got 1.3",
        ),
        (
            {"type": "f32", "max": 1e39},
            "max",
            "must be -3.40282e+38 to 3.40282e+38, which is what a floating-point field of 32 bits "
            "carries at this scale, got 1e+39",
        ),
        ({"bits": 0}, "bits", "must be 1 to 8 for u8, got 0"),
        ({"bits": 9}, "bits", "must be 1 to 8 for u8, got 9"),
        ({"type": "f32", "bits": 3}, "bits", "must be left out of a field of type f32, got 3"),
        (
            {"type": "u9"},
            "type",
            "must be one of u8, u16, u32, u64, i8, i16, i32, i64, f32, f64, got 'u9'",
        ),
        (
            {"name": "left arm"},
            "name",
            "must be letters, digits and underscores and not begin with a digit, got 'left arm'",
        ),
    ],
)
def test_a_field_that_cannot_be_is_refused(keys: dict[str, Any], key: str, text: str) -> None:
    assert problems(field(**keys)) == ((f"layout.drive.fields[0].{key}", text),)


def test_every_problem_is_said_in_one_go() -> None:
    found = problems(field(bits=9), field(scale=0.0, name="7"), field(min=3.0, max=2.0))

    assert [path.removeprefix("layout.drive.") for path, _ in found] == [
        "fields[0].bits",
        "fields[1].name",
        "fields[1].scale",
        "fields[2].name",
        "fields[2].min",
    ]


def test_a_name_used_twice_is_refused_with_its_first_place() -> None:
    assert problems(field(), field()) == (
        (
            "layout.drive.fields[1].name",
            "must be a name no other field has, got 'x' (fields[0] has it)",
        ),
    )


def test_a_layout_without_fields_is_refused() -> None:
    assert problems() == (("layout.drive.fields", "must have at least one field, got none"),)


def test_a_header_must_be_read_before_it_is_laid_out() -> None:
    found = problems(header="frames.h", struct="DriveFrame", abi="avr")

    assert found == (("layout.drive.header", "must be read before it has fields"),)


def test_what_goes_with_a_header_alone_is_refused_without_one() -> None:
    found = problems(field(at_bit=0), struct="DriveFrame", size_bytes=4)

    assert found == (
        ("layout.drive.struct", "must be left out without header, got 'DriveFrame'"),
        ("layout.drive.size_bytes", "must be left out, got 4"),
        ("layout.drive.fields[0].at_bit", "must be left out, got 0"),
    )


def test_a_frame_longer_than_a_payload_is_refused() -> None:
    # Source: facts 14, ten 4-byte numbers and a byte are 44 bytes with natural alignment.
    fields = [field(name=f"x{index}", type="i32") for index in range(10)]

    assert problems(*fields, field(), packed=False) == (
        ("layout.drive.fields", "must be at most 32 bytes in all, got 44, 3 of them padding"),
    )


def test_thirty_two_bytes_fit() -> None:
    fields = tuple(field(name=f"x{index}", type="u64") for index in range(4))

    assert lay_out("drive", LayoutDescription(fields=fields)).size_bytes == 32


def test_layouts_are_hashable_and_equal_by_value() -> None:
    assert len({plain_layout("drive", 6), plain_layout("drive", 6), plain_layout("head", 6)}) == 2


def test_a_field_is_found_by_its_name() -> None:
    layout = plain_layout("head", 4)

    assert layout.index_of("spare_2") == 2
    with pytest.raises(LayoutError, match="must be one of value, spare_1, spare_2, got 'yaw'"):
        layout.index_of("yaw")


@pytest.mark.parametrize("payload_bytes", range(1, 33))
def test_a_plain_layout_has_the_length_asked_for(payload_bytes: int) -> None:
    layout = plain_layout("drive", payload_bytes)

    value = layout.fields[0]
    data = codec_of(layout).pack_values([-1.0] + [0.0] * (len(layout.fields) - 1))
    assert layout.size_bytes == len(data) == payload_bytes
    assert (value.name, value.minimum, value.maximum, value.neutral) == ("value", -1.0, 1.0, 0.0)


@pytest.mark.parametrize("payload_bytes", [-1, 0, 33])
def test_a_plain_layout_has_one_to_thirty_two_bytes(payload_bytes: int) -> None:
    text = rf"^layout\.drive: must be 1 to 32 bytes, got {payload_bytes}$"

    with pytest.raises(LayoutError, match=text):
        plain_layout("drive", payload_bytes)


def test_a_layout_is_read_as_the_scenario_file_writes_it() -> None:
    text = """
        byte_order = "big"
        packed = false
        fields = [
          { name = "count", type = "u8" },
          { name = "steer", type = "u8", scale = 0.008, offset = 127, min = -1.0, max = 1.0 },
          { name = "lamp", type = "u8", bits = 1 },
        ]
    """

    description = msgspec.toml.decode(text, type=LayoutDescription)

    assert [field.name for field in lay_out("x", description).fields] == ["count", "steer", "lamp"]
    assert msgspec.json.decode(msgspec.json.encode(description), type=LayoutDescription) == (
        description
    )


@pytest.mark.parametrize("struct", [FieldDescription, LayoutDescription])
def test_every_key_says_what_it_means(struct: Any) -> None:
    _, components = msgspec.json.schema_components([struct])

    for key, schema in components[struct.__name__]["properties"].items():
        assert schema.get("description"), key


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
