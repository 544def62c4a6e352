"""Structs of C and C++ headers, as each target's compiler lays them out."""

import random
import sys
from pathlib import Path

import pytest

from radiosim.c_header.struct_reader import HeaderStruct, read_struct
from radiosim.errors import LayoutError
from radiosim.layout import Conversion, codec_of, lay_out
from radiosim.layout.header_layout import described

pytest.importorskip("clang.cindex", reason="headers need libclang, the extra `c`")


def read(text: str, abi: str = "arm", struct: str = "Frame") -> HeaderStruct:
    return read_struct("frames.h", text, struct, abi)


def places(struct: HeaderStruct) -> list[tuple[str, int, int]]:
    return [(field.name, field.at_bit, field.bits) for field in struct.fields]


def refusals(text: str, struct: str = "Frame") -> tuple[tuple[str, str], ...]:
    with pytest.raises(LayoutError, match=r"\S") as caught:
        read(text, struct=struct)
    return caught.value.problems


def test_seven_bytes_of_one_chip_are_eight_on_another() -> None:
    text = "#include <stdint.h>\nstruct Frame { uint8_t mode; int16_t throttle; uint32_t ms; };"

    sizes = {abi: read(text, abi).size_bytes for abi in ("avr", "arm", "xtensa", "riscv32", "host")}

    assert sizes == {"avr": 7, "arm": 8, "xtensa": 8, "riscv32": 8, "host": 8}
    assert places(read(text, "avr")) == [("mode", 0, 8), ("throttle", 8, 16), ("ms", 24, 32)]
    assert places(read(text, "arm")) == [("mode", 0, 8), ("throttle", 16, 16), ("ms", 32, 32)]


def test_arrays_and_inner_structs_become_fields_with_joined_names() -> None:
    text = """
    #define AXES 2
    enum { TRIMS = 1 + 1 };
    struct Pose { short pitch; signed char yaw; };
    typedef struct { unsigned char trim[TRIMS]; struct Pose pose[AXES]; struct { char z; }; } Frame;
    """

    assert places(read(text)) == [
        ("trim_0", 0, 8),
        ("trim_1", 8, 8),
        ("pose_0_pitch", 16, 16),
        ("pose_0_yaw", 32, 8),
        ("pose_1_pitch", 48, 16),
        ("pose_1_yaw", 64, 8),
        ("z", 80, 8),
    ]


def test_packed_aligned_and_pack_move_fields() -> None:
    bare = "struct {} Frame {{ unsigned char a; int b; unsigned char c; }};"
    packed = bare.format("__attribute__((packed))")
    four = bare.format("__attribute__((packed, aligned(4)))")

    assert places(read(packed)) == [("a", 0, 8), ("b", 8, 32), ("c", 40, 8)]
    assert [read(text).size_bytes for text in (bare.format(""), packed, four)] == [12, 6, 8]
    pragma = f"#pragma pack(push, 2)\n{bare.format('')}\n#pragma pack(pop)"
    assert places(read(pragma)) == [("a", 0, 8), ("b", 16, 32), ("c", 48, 8)]


def test_bit_fields_keep_their_bits() -> None:
    text = (
        "struct Frame { unsigned char a : 3; unsigned char : 2; signed char b : 3; short c : 9; };"
    )

    fields = read(text).fields

    assert [(f.name, f.kind, f.at_bit, f.bits) for f in fields] == [
        ("a", "unsigned", 0, 3),
        ("b", "signed", 5, 3),
        ("c", "signed", 16, 9),
    ]
    assert all(field.is_bit_field for field in fields)


def test_what_an_unnamed_struct_leaves_out_at_its_front_is_counted_once() -> None:
    text = """
    struct Frame {
        unsigned char a;
        struct { unsigned char : 3; unsigned char b : 5; unsigned char c; };
    };
    """

    assert places(read(text)) == [("a", 0, 8), ("b", 11, 5), ("c", 16, 8)]


def test_an_enum_is_as_wide_as_the_target_makes_it() -> None:
    text = "enum Mode { CRAWL, CRUISE = 3 };\nstruct Frame { enum Mode mode; };"

    sizes = [read(text, abi).size_bytes for abi in ("avr", "arm", "riscv32")]

    assert sizes == [2, 1, 4]
    (field,) = read(text, "avr").fields
    assert (field.base, field.values) == ("enum", (0, 3))


def test_classes_scoped_enums_and_namespaces_are_read() -> None:
    text = """
    #include <cstdint>
    namespace link {
    enum class Gear : std::uint8_t { reverse, low, high };
    class Frame { public: Gear gear; bool lamp; static int sent; void clear(); };
    }
    """.replace("std::", "")

    assert places(read(text)) == [("gear", 0, 8), ("lamp", 8, 8)]


def test_a_header_that_is_only_c_is_read_as_c() -> None:
    text = "struct Frame { _Bool class; };"

    assert places(read(text)) == [("class", 0, 8)]


def test_headers_that_are_not_there_are_ignored_and_listed() -> None:
    text = """#include <stdint.h>
#include <radio.h>
#include "pins.h" // ours
#if 1
#  include BOARD
#endif
void setup(Radio &radio);
struct Frame { uint8_t a; };"""

    struct = read(text)

    assert struct.ignored == ("<radio.h>".strip("<>"), "pins.h", "BOARD")
    assert places(struct) == [("a", 0, 8)]


def test_headers_beside_it_are_read() -> None:
    beside = {"inc/size.h": '#define N 3\n#include "../deep.h"', "deep.h": "typedef short s;"}

    struct = read_struct(
        "frames.h",
        '#include "inc/size.h"\nstruct Frame { s a[N]; };',
        "Frame",
        "arm",
        beside.get,
    )

    assert struct.size_bytes == 6
    assert struct.ignored == ()


@pytest.mark.parametrize(
    "name", ["/etc/hostname", "../secret.h", "a/../../secret.h", "c:/x.h", "~/x.h"]
)
def test_nothing_outside_the_folder_is_asked_for(name: str) -> None:
    asked: list[str] = []

    def neighbour(wanted: str) -> None:
        asked.append(wanted)

    struct = read_struct(
        "frames.h", f'#include "{name}"\nstruct Frame {{ char a; }};', "Frame", "arm", neighbour
    )

    assert asked == []
    assert struct.ignored == (name,)


@pytest.mark.parametrize(
    "directive",
    [
        '#include "FILE"',
        "#include <FILE>",
        '%:include "FILE"',
        '#inc\\\nlude "FILE"',
        '/* */ # /* */ include "FILE"',
        '#import "FILE"',
        '#include_next "FILE"',
        '#define X "FILE"\n#include X',
    ],
)
def test_no_spelling_of_an_include_reaches_the_disk(directive: str, tmp_path: Path) -> None:
    (tmp_path / "secret.h").write_text("#define a stolen\n", encoding="utf-8")
    directive = directive.replace("FILE", str(tmp_path / "secret.h"))

    struct = read(f"{directive}\nstruct Frame {{ char a; }};")

    assert places(struct) == [("a", 0, 8)]


def test_types_of_firmwares_are_known_and_said() -> None:
    struct = read("struct Frame { byte a; boolean b; word c; };", "avr")

    assert [field.bits for field in struct.fields] == [8, 8, 16]
    assert struct.assumed == (
        "byte taken as unsigned char",
        "boolean taken as bool",
        "word taken as unsigned int",
    )


def test_every_member_that_cannot_be_sent_is_refused_by_name_line_and_reason() -> None:
    text = """struct Frame {
  char *name;
  char &other;
  union { int i; float f; } either;
  union { int u; };
  virtual void act();
  long double much;
  wchar_t letter;
  unknown_t odd;
};"""

    assert refusals(text) == (
        (
            "frames.h:2",
            "name: must be a number, got a pointer: an address means nothing at the other end; "
            "send the value",
        ),
        (
            "frames.h:3",
            "other: must be a number, got a reference: it is an address; send the value",
        ),
        (
            "frames.h:4",
            "either: must be one number, got a union, which does not say what was sent; write "
            "that member",
        ),
        (
            "frames.h:5",
            "(unnamed): must be one number, got a union, which does not say what was sent; write "
            "that member",
        ),
        (
            "frames.h:6",
            "act: must not be virtual: the struct then holds an address; make it a plain function",
        ),
        (
            "frames.h:7",
            "much: must be a number, got a long double: its size differs by compiler; use float "
            "or an integer",
        ),
        (
            "frames.h:8",
            "letter: must be a number, got a wchar_t: its size differs by compiler; use uint16_t "
            "or uint32_t",
        ),
        ("frames.h:9", "Frame: must be C that can be read, got unknown type name 'unknown_t'"),
    )


@pytest.mark.parametrize(
    ("text", "line", "part"),
    [
        (
            "struct Frame { int n; char rest[]; };",
            1,
            "rest: must be a number, got an array without",
        ),
        ("struct Base { int n; };\nstruct Frame : Base { int m; };", 2, "got the base Base"),
        ("struct Frame { };", 1, "Frame: must have at least one number, got none"),
        ("union Frame { int a; float b; };", 1, "Frame: must be a struct, got a union"),
        ("template <int N> struct Frame { char a[N]; };", 1, "must be a struct, got a template"),
        ("struct Frame {\n char a_b; struct { char b; } a;\n};", 2, "a_b: must be a name that no"),
        ("#include <sizes.h>\nstruct Frame { char a[N]; };", 2, "not read: sizes.h"),
        ("struct Frame { int x : 99; };", 1, "x: must be at most 32 bits, got 99"),
        ("struct Frame { _Float16 h; };", 1, "h: must be a number, got _Float16"),
    ],
)
def test_a_struct_that_makes_no_frame_is_refused(text: str, line: int, part: str) -> None:
    (problem,) = refusals(text)

    assert problem[0] == f"frames.h:{line}"
    assert part in problem[1]


def test_a_struct_inside_itself_is_refused() -> None:
    assert any("incomplete type" in text for _, text in refusals("struct Frame { Frame f; };"))


@pytest.mark.parametrize("seed", range(60))
def test_a_damaged_header_is_read_or_refused_never_more(seed: int) -> None:
    draw = random.Random(seed)
    text = list(
        "#include <stdint.h>\nenum Mode { A, B };\nstruct In { uint8_t x; };\n"
        "struct Frame { uint8_t a; int16_t b[2]; struct In in; uint8_t c : 3; enum Mode m; };"
    )
    pieces = ("{", "}", ";", "*", "[9]", "union ", "int ", ":", "/*", '"', "#if 0\n", "virtual ")
    for _ in range(draw.randint(1, 8)):
        at = draw.randrange(len(text))
        if draw.random() < 0.5:
            text[at : at + draw.randint(1, 6)] = []
        else:
            text[at:at] = draw.choice(pieces)

    try:
        struct = read("".join(text))
        layout = lay_out("any", described(struct, {}), longest_bytes=4096)
    except LayoutError:
        return

    assert len(codec_of(layout).unpack(bytes(layout.size_bytes))) == len(layout.fields)


def test_mistakes_outside_the_struct_do_not_matter() -> None:
    text = "int broken(;\nextern Thing thing;\nstruct Frame { char a; };"

    assert places(read(text)) == [("a", 0, 8)]


def test_a_struct_that_is_not_there_is_refused_with_those_that_are() -> None:
    assert refusals("struct A { int x; }; typedef struct { int y; } B;") == (
        ("frames.h", "must have a struct Frame, got A, B"),
    )


def test_a_struct_lost_to_a_mistake_before_it_is_said_to_be() -> None:
    ((place, text),) = refusals("int broken( { ;\nstruct Frame { char a; };")

    assert place == "frames.h"
    assert text.startswith("must have a struct Frame, got none; line 1 was not understood: ")


def test_an_unknown_target_is_refused() -> None:
    with pytest.raises(
        LayoutError, match="must be one of avr, arm, xtensa, riscv32, host, got 'z'"
    ):
        read("struct Frame { char a; };", "z")


def test_without_the_parser_it_is_said_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "path", [path for path in sys.path if "packages" not in path])

    with pytest.raises(
        LayoutError, match=r"must be there to read a C header.*pip install"
    ) as caught:
        read("struct Frame { char a; };")

    assert "libclang>=18,<19" in str(caught.value)


def test_units_are_given_by_field() -> None:
    struct = read("struct Frame { short throttle; char lamp; };")

    layout = lay_out(
        "drive", described(struct, {"throttle": Conversion(scale=0.001, min=-1.0, max=1.0)})
    )

    assert layout.fields[0].to_wire(0.5) == 500
    assert layout.size_bytes == 4
    with pytest.raises(LayoutError, match="did you mean 'throttle'"):
        described(struct, {"throtle": Conversion()})


def test_a_field_over_several_bytes_of_bits_is_packed_and_unpacked() -> None:
    text = "struct __attribute__((packed)) Frame { int a : 3; int b : 18; int c : 11; char d; };"
    layout = lay_out("odd", described(read(text), {}))

    packed = codec_of(layout).pack((-4, -131072, 1023, 1))

    assert len(packed) == 5
    assert int.from_bytes(packed[:4], "little") == 0b100 | 1 << 20 | 1023 << 21
    assert codec_of(layout).unpack(packed) == (-4, -131072, 1023, 1)
