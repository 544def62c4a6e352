"""Targets, and the compilers that they are held against."""

from pathlib import Path

import pytest

from radiosim.c_header.abi import ABIS
from radiosim.c_header.struct_reader import read_struct
from radiosim.layout import codec_of, lay_out
from radiosim.layout.header_layout import described
from tests.reference.c_structs import COMPILERS, Compiler, Probe, images, parsed_here


def test_every_target_that_counts_as_checked_has_its_compiler() -> None:
    named = {one.abi: one.command[0] for one in COMPILERS}

    assert {name: abi.compiler for name, abi in ABIS.items() if not abi.label} == named


def test_a_probe_shows_the_bytes_of_one_field(tmp_path: Path) -> None:
    host = COMPILERS[0]
    if not host.is_there:
        pytest.skip("gcc is not installed")
    probe = Probe(struct="S", setting=".b = 1")

    (image,) = images(host, "struct S { uint8_t a; uint16_t b; };", [probe], tmp_path)

    assert image == b"\0\0\1\0"


WIDTHS = {"uint8_t": 8, "uint16_t": 16, "int": 16, "uint32_t": 32}
AFTER_UNNAMED = tuple(
    f"{one} : {bits}; {other} m : {WIDTHS[other]}; uint8_t last;"
    for one, width in WIDTHS.items()
    for other in WIDTHS
    for bits in (0, 1, width - 2, width)
)


@pytest.mark.slow
@pytest.mark.parametrize("compiler", COMPILERS, ids=lambda compiler: compiler.abi)
def test_full_width_bits_after_unnamed_ones_lie_as_the_compiler_lays_them(
    compiler: Compiler, tmp_path: Path
) -> None:
    pytest.importorskip("clang.cindex", reason="headers need libclang, the extra `c`")
    if not compiler.is_there:
        pytest.skip(f"{compiler.command[0]} is not installed")
    header = "\n".join(f"struct S{n} {{ {body} }};" for n, body in enumerate(AFTER_UNNAMED))
    text = f"#include <stdint.h>\n{header}"
    with parsed_here():
        reads = [
            read_struct("bits.h", text, f"S{number}", compiler.abi)
            for number in range(len(AFTER_UNNAMED))
        ]
    packed = []
    for read in reads:
        m, _ = read.fields
        wire = -1 if m.kind == "signed" else (1 << m.bits) - 1
        packed.append(codec_of(lay_out("bits", described(read, {}))).pack([wire, 0]))

    probes = [Probe(struct=f"S{n}", setting=".m = -1") for n in range(len(AFTER_UNNAMED))]
    built = images(compiler, header, probes, tmp_path)

    assert dict(zip(AFTER_UNNAMED, packed, strict=True)) == dict(
        zip(AFTER_UNNAMED, built, strict=True)
    )
