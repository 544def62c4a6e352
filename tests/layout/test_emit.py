"""Headers and vectors for the firmware: they compile everywhere, and agree with the codec."""

import shutil
import subprocess
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given
from hypothesis import strategies as st

from radiosim.errors import LayoutError
from radiosim.layout import FieldDescription, Layout, LayoutDescription, codec_of, lay_out
from radiosim.layout.emit_c import _RESERVED, c_header, c_names, struct_name
from radiosim.layout.emit_vectors import vectors
from radiosim.layout.field import Field
from tests.examples import examples
from tests.layout.layout_strategies import layouts

STRICT = ("-Wall", "-Wextra", "-Werror", "-c", "-o", "/dev/null")
COMPILERS = {
    "c11": ("gcc", "-std=c11", "-x", "c"),
    "c++11": ("g++", "-std=c++11", "-x", "c++"),
    "avr": ("avr-gcc", "-mmcu=avr5", "-std=c11", "-x", "c"),
    "arm": ("arm-none-eabi-gcc", "-std=c11", "-x", "c"),
}
USE = """#include "frame.h"
int main(void)
{{
    uint8_t data[{guard}_BYTES] = {{0}};
    {name}_t frame;
    {name}_unpack(data, &frame);
    {name}_pack(&frame, data);
    return data[0];
}}
"""
MIXED = LayoutDescription(
    fields=(
        FieldDescription(name="count", type="u8"),
        FieldDescription(name="throttle", type="i16", scale=0.001, min=-1.0, max=1.0),
        FieldDescription(name="switch", type="u8", bits=1),
        FieldDescription(name="trim", type="i8", bits=3),
        FieldDescription(name="volts", type="f32"),
        FieldDescription(name="ms", type="u32"),
    )
)


def compiler_of(kind: str) -> tuple[str, ...]:
    command = COMPILERS[kind]
    if shutil.which(command[0]) is None:
        pytest.skip(f"{command[0]} is not installed")
    return command


def compiled(kind: str, layout: Layout, folder: Path) -> subprocess.CompletedProcess[str]:
    """What a compiler says to a program that uses a layout's header."""
    command = compiler_of(kind)
    (folder / "frame.h").write_text(c_header(layout), encoding="ascii")
    source = folder / "use.c"
    name, guard = struct_name(layout)
    text = USE.format(guard=guard, name=name)
    source.write_text(text, encoding="ascii")
    arguments = [*command, *STRICT, str(source)]
    return subprocess.run(arguments, capture_output=True, text=True, check=False)


@pytest.mark.parametrize("kind", COMPILERS)
@pytest.mark.parametrize("byte_order", ["little", "big"])
@pytest.mark.parametrize("packed", [True, False])
def test_a_header_compiles_without_a_warning(
    kind: str, byte_order: str, packed: bool, tmp_path: Path
) -> None:
    description = LayoutDescription(fields=MIXED.fields, byte_order=byte_order, packed=packed)  # type: ignore[arg-type]

    done = compiled(kind, lay_out("mixed", description), tmp_path)

    assert (done.returncode, done.stderr) == (0, "")


@pytest.mark.slow
@pytest.mark.parametrize("kind", COMPILERS)
@examples(8, suppress_health_check=list(HealthCheck))
@given(layout=layouts())
def test_random_headers_compile_without_a_warning(
    kind: str, layout: Layout, tmp_path_factory: pytest.TempPathFactory
) -> None:
    is_wide = any(field.kind == "float" and field.bits == 64 for field in layout.fields)

    done = compiled(kind, layout, tmp_path_factory.mktemp("built"))

    if kind == "avr" and is_wide:
        assert "double is not 64 bits wide" in done.stderr
    else:
        assert (done.returncode, done.stderr) == (0, "")


ODD = """
to to_ to__ from raw held gap_0 gap_1 gap_2 uint8_t int16_t size_t UINT8_MAX UINT8_C __LINE__ _Bool
_Static_assert frame_t frame_pack FRAME_BYTES FRAME_H FRAME_ASSERT int_t size wchar main data frame
"""
NAMES = st.one_of(
    st.sampled_from(sorted(_RESERVED)),
    st.sampled_from(ODD.split()),
    st.from_regex(r"[A-Za-z_][A-Za-z0-9_]{0,5}", fullmatch=True),
)


@st.composite
def oddly_named(draw: st.DrawFn) -> Layout:
    """A layout of any names, those of C and of the header itself first."""
    names = draw(st.lists(NAMES, min_size=1, max_size=16, unique=True))
    fields = tuple(
        FieldDescription(name=name, type="u8", at_bit=16 * n) for n, name in enumerate(names)
    )
    described = LayoutDescription(header="x.h", fields=fields, size_bytes=2 * len(names))
    return lay_out(draw(NAMES), described)


@pytest.mark.slow
@pytest.mark.parametrize("kind", COMPILERS)
@examples(40, suppress_health_check=list(HealthCheck))
@given(layout=oddly_named())
def test_fields_of_any_name_make_a_header_that_compiles(
    kind: str, layout: Layout, tmp_path_factory: pytest.TempPathFactory
) -> None:
    done = compiled(kind, layout, tmp_path_factory.mktemp("built"))

    assert (done.returncode, done.stderr) == (0, "")


@examples(300)
@given(layout=oddly_named())
def test_every_field_has_a_member_of_its_own_that_is_no_word_of_c(layout: Layout) -> None:
    members = list(c_names(layout).values())

    assert len(set(members)) == len(members) == len(layout.fields)
    assert not set(members) & (_RESERVED | {"uint8_t", "UINT8_MAX", f"{struct_name(layout)[0]}_t"})


@pytest.mark.parametrize(
    ("name", "in_c"),
    [("drive", "drive"), ("2nd", "frame_2nd"), ("_a", "frame__a"), ("uint8", "frame_uint8")],
)
def test_a_layout_is_called_what_c_takes(name: str, in_c: str) -> None:
    """C11 6.4.2.1 and 7.1.3, from memory: no digit first, none of the reserved names."""
    layout = lay_out(name, LayoutDescription(fields=(FieldDescription(name="a", type="u8"),)))

    assert struct_name(layout) == (in_c, in_c.upper())


def test_names_that_differ_by_an_underscore_stay_two() -> None:
    fields = tuple(FieldDescription(name=name, type="u8") for name in ("int", "int_", "to"))

    assert c_names(lay_out("a", LayoutDescription(fields=fields))) == {
        "int": "int__",
        "int_": "int_",
        "to": "to",
    }


def test_a_build_for_a_compiler_with_a_narrow_double_stops(tmp_path: Path) -> None:
    wide = LayoutDescription(fields=(FieldDescription(name="x", type="f64"),))

    done = compiled("avr", lay_out("wide", wide), tmp_path)

    assert done.returncode != 0
    assert "double is not 64 bits wide" in done.stderr


PROGRAM = """#include <stdio.h>
#include "frame.h"
int main(void)
{{
    random_t frame;
    uint8_t data[RANDOM_BYTES];
    int at;
{cases}    return 0;
}}
"""


def literal(field: Field, wire: int | float) -> str:
    if field.kind == "float":
        return float(wire).hex() + ("f" if field.bits == 32 else "")
    if wire == -(1 << 63):
        return "(-0x7fffffffffffffffll - 1)"
    return f"{int(wire)}{'ull' if field.kind == 'unsigned' else 'll'}"


@pytest.mark.slow
@examples(12, suppress_health_check=list(HealthCheck))
@given(layout=layouts())
def test_compiled_pack_and_unpack_agree_with_the_codec(
    layout: Layout, tmp_path_factory: pytest.TempPathFactory
) -> None:
    command = compiler_of("c11")
    folder = tmp_path_factory.mktemp("built")
    cases, expected = "", []
    for vector in vectors(layout):
        cases += "    memset(&frame, 0x5a, sizeof frame);\n"
        for field, number in zip(layout.fields, vector.numbers, strict=True):
            cases += f"    frame.{c_names(layout)[field.name]} = {literal(field, number)};\n"
        # Packed, then packed again from what was unpacked: both must be the codec's bytes.
        cases += "    random_pack(&frame, data);\n    random_unpack(data, &frame);\n"
        show = 'for (at = 0; at < RANDOM_BYTES; at++) printf("%02x", data[at]);'
        cases += f"    {show}\n    random_pack(&frame, data);\n    {show}\n"
        for field, number in zip(layout.fields, vector.numbers, strict=True):
            same = f"frame.{c_names(layout)[field.name]} == {literal(field, number)}"
            cases += f'    printf(" %d", {same});\n'
        cases += '    printf("\\n");\n'
        packed = codec_of(layout).pack(vector.numbers)
        assert packed == vector.data
        expected.append(packed.hex() * 2 + " 1" * len(layout.fields))
    (folder / "frame.h").write_text(c_header(layout), encoding="ascii")
    (folder / "main.c").write_text(PROGRAM.format(cases=cases), encoding="ascii")

    built = folder / "main"
    subprocess.run(
        [*command, str(folder / "main.c"), "-o", str(built)], check=True, capture_output=True
    )
    printed = subprocess.run([str(built)], check=True, capture_output=True, text=True).stdout

    assert printed.splitlines() == expected


def test_the_struct_is_the_frame_itself_where_the_lowest_byte_goes_first(tmp_path: Path) -> None:
    text = c_header(lay_out("mixed", MIXED))

    assert "MIXED_ASSERT(sizeof(mixed_t) == MIXED_BYTES" in text
    assert "MIXED_ASSERT(offsetof(mixed_t, throttle) == 1" in text
    assert "    uint8_t switch_ : 1;" in text  # a word of C gets an underscore
    assert "int16_t throttle; /* number * 0.001, -1 to 1 */" in text


def test_vectors_hold_rest_ends_and_drawn_frames() -> None:
    made = {vector.name: vector for vector in vectors(lay_out("mixed", MIXED))}

    assert made["all at rest"].data == bytes(13)
    assert made["throttle lowest"].numbers[1] == -32768
    assert made["throttle lowest"].data[1:3] == b"\x00\x80"
    assert len(made) == 3 + 2 * len(MIXED.fields) + 8
    assert vectors(lay_out("mixed", MIXED)) == tuple(made.values())


def test_a_bit_field_over_nine_bytes_is_refused() -> None:
    fields = (
        FieldDescription(name="a", type="u8", bits=1, at_bit=0),
        FieldDescription(name="b", type="u64", bits=64, at_bit=1),
    )
    description = LayoutDescription(header="x.h", fields=fields, size_bytes=9)

    with pytest.raises(LayoutError, match="must lie in 8 bytes to be a bit field of C, got"):
        c_header(lay_out("odd", description))
