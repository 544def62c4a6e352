"""The traps of a layout, and that a sound one has none."""

from typing import Any

import pytest

from radiosim.c_header.abi import ABIS
from radiosim.c_header.struct_reader import read_struct
from radiosim.layout import FieldDescription, Layout, LayoutDescription, lay_out
from radiosim.layout.header_layout import described
from radiosim.layout.traps import Trap, traps_of


def field(name: str, type_name: str, **keys: Any) -> FieldDescription:
    return FieldDescription(name=name, type=type_name, **keys)  # type: ignore[arg-type]


SOUND = (field("version", "u8"), field("count", "u8"), field("throttle", "i16", scale=0.001))


def layout(*fields: FieldDescription, **keys: Any) -> Layout:
    return lay_out("frame", LayoutDescription(fields=fields, **keys), longest_bytes=4096)


def kinds(traps: tuple[Trap, ...]) -> list[tuple[str, str, str]]:
    return [(trap.severity, trap.trap, trap.field) for trap in traps]


def of_header(body: str) -> tuple[Trap, ...]:
    pytest.importorskip("clang.cindex", reason="headers need libclang, the extra `c`")
    text = f"#include <stdint.h>\nenum Mode {{ A, B }};\nstruct S {{ {body} }};"
    targets = {abi: read_struct("s.h", text, "S", abi) for abi in ABIS}
    made = lay_out("S", described(targets["avr"], {}), longest_bytes=4096)
    return traps_of(made, targets=targets)


def test_a_sound_layout_has_no_trap() -> None:
    assert traps_of(layout(*SOUND)) == ()


@pytest.mark.parametrize(
    ("made", "severity", "kind", "name"),
    [
        (layout(*SOUND, *(field(f"x{i}", "u64") for i in range(4))), "error", "too long", ""),
        (layout(SOUND[0], SOUND[2]), "warning", "no counter", ""),
        (layout(SOUND[0], field("count", "u8", bits=2)), "warning", "short counter", "count"),
        (layout(*SOUND, field("volts", "f32")), "warning", "float", "volts"),
        (layout(*SOUND[:2], field("x", "u32"), packed=False), "error", "differs", ""),
        (layout(*SOUND[:2], field("x", "u32"), packed=False), "warning", "padding", ""),
        (layout(*SOUND, field("lamp", "u8", bits=3)), "note", "padding", ""),
        (layout(*SOUND, byte_order="big"), "warning", "byte order", ""),
        (layout(*SOUND, field("lamp", "u8", bits=8)), "note", "bit order", "lamp"),
        (layout(*SOUND[1:]), "note", "no version", ""),
    ],
)
def test_each_trap_is_found_with_its_cure(
    made: Layout, severity: str, kind: str, name: str
) -> None:
    traps = traps_of(made)

    assert (severity, kind, name) in kinds(traps)
    assert all(trap.cure for trap in traps)


@pytest.mark.parametrize(
    ("body", "name", "part", "cure"),
    [
        ("uint8_t a; int speed;", "speed", "int has 2 bytes on avr, 4 bytes on arm", "int16_t"),
        ("uint8_t a; unsigned b;", "b", "has 2 bytes on avr", "uint16_t or uint32_t"),
        ("long x;", "x", "long has 4 bytes on avr, arm, xtensa and riscv32, 8", "int32_t"),
        ("double v;", "v", "double has 4 bytes on avr, 8 bytes on arm", "float"),
        ("enum Mode m;", "m", "2 bytes on avr, 1 byte on arm, 4 bytes on xtensa", "uint8_t"),
        ("char c;", "c", "plain char is signed on avr and host, unsigned on arm", "int8_t"),
        ("uint8_t a; int16_t t;", "t", "no gap on avr, a gap of 1 byte on arm", "packed"),
        ("uint8_t a:5; uint8_t b:5;", "b", "no gap on avr, a gap of 3 bits on arm", "packed"),
        ("int16_t t; uint8_t a;", "", "3 bytes on avr, 4 bytes on arm", "packed"),
    ],
)
def test_what_differs_between_two_targets_is_said_with_its_cause(
    body: str, name: str, part: str, cure: str
) -> None:
    found = [trap for trap in of_header(body) if trap.trap == "differs" and trap.field == name]

    assert found
    assert part in found[0].what
    assert cure in found[0].cure
    assert found[0].severity == "error"


def test_fixed_widths_in_a_packed_struct_are_the_same_everywhere() -> None:
    traps = of_header("uint8_t a; int16_t t; } __attribute__((packed)); struct Other { char z;")

    assert [trap for trap in traps if trap.trap == "differs"] == []


def test_a_counter_of_another_name_is_known_from_its_signal() -> None:
    made = layout(field("version", "u8"), field("tick", "u8"))

    assert kinds(traps_of(made, counters=frozenset({"tick"}))) == []
    assert kinds(traps_of(made)) == [("warning", "no counter", "")]


def test_without_acknowledgements_no_counter_is_missed() -> None:
    assert traps_of(layout(SOUND[0], SOUND[2]), is_acknowledged=False) == ()


def test_a_range_gives_the_scale_of_the_integer_to_send() -> None:
    traps = traps_of(layout(*SOUND[:2], field("volts", "f32", min=0.0, max=16.0)))

    assert traps[0].cure == "send an i16 with a scale of 0.0005"
