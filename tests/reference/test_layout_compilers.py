"""Structs as we read them against structs as real compilers lay them out.

Random structs with plain and fixed-width integers, floats, bools, enums, arrays, inner structs,
bit fields (unnamed and of no width too), `packed`, `aligned` and `#pragma pack`. Each number is
set alone and the bytes that the compiler puts into an object file are compared with those that
our codec packs. Compilers: gcc of this machine; avr-gcc 5.4, arm-none-eabi-gcc, riscv64-unknown-
elf-gcc (rv32) and xtensa-lx106-elf-gcc 12.2, from Debian 12 (seen). Those that are not installed
are skipped; `.ci/run` installs them. Exact equality; random structs, the same ones every time in
CI. And one rule at a time, facts 14.
"""

import ctypes

import pytest
from hypothesis import HealthCheck, given
from hypothesis import strategies as st

from radiosim.c_header.c_field import CField
from radiosim.c_header.struct_reader import read_struct
from radiosim.layout import codec_of, lay_out
from radiosim.layout.header_layout import described
from tests.examples import examples
from tests.reference.c_structs import (
    COMPILERS,
    PRELUDE,
    Compiler,
    Probe,
    images,
    parsed_here,
    structs,
)
from tests.reference.outside import DERIVED, SECOND, check, outside
from tests.reference.sources import AAPCS32, FACTS, LIBRARY

pytest.importorskip("clang.cindex", reason="headers need libclang, the extra `c`")

MANY = 25
"""Structs compiled in one go."""
HEAD = "#include <stdint.h>\n#include <stdbool.h>\n"


@st.composite
def batches(draw: st.DrawFn) -> tuple[str, ...]:
    return tuple(draw(structs(f"S{index}")) for index in range(MANY))


def set_alone(field: CField) -> tuple[str, int | float]:
    """Initialiser of a field in C, and the number that it puts on the wire."""
    path = field.name
    inner = {"_first": ".first", "_second": ".second"}
    for tail, member in inner.items():
        if path.endswith(tail):
            path = path.removesuffix(tail) + member
    head, underscore, index = path.partition("_")
    if underscore:
        path = f"{head}[{index}]"
    if field.kind == "float":
        return f".{path} = 1.0", 1.0
    if field.base == "bool":
        return f".{path} = 1", 1
    if field.base == "enum":
        return f".{path} = (enum {field.c_type.split()[-1]})3", 3
    if field.kind == "signed":
        return f".{path} = -1", -1
    return f".{path} = -1", (1 << field.bits) - 1


@outside(
    "bytes of random C structs as five compilers lay them out",
    source=LIBRARY.at("gcc"),
    status=SECOND,
)
@pytest.mark.elsewhere
@pytest.mark.slow
@pytest.mark.parametrize("compiler", COMPILERS, ids=lambda compiler: compiler.abi)
@examples(6, suppress_health_check=list(HealthCheck))
@given(batch=batches())
def test_random_structs_lie_as_the_compiler_lays_them(
    compiler: Compiler, batch: tuple[str, ...], tmp_path_factory: pytest.TempPathFactory
) -> None:
    if not compiler.is_there:
        pytest.skip(f"{compiler.command[0]} is not installed")
    header = PRELUDE + "\n".join(batch)
    probes, expected = [], []
    with parsed_here():
        reads = [
            read_struct("random.h", HEAD + header, f"S{number}", compiler.abi)
            for number in range(MANY)
        ]
    for number, read in enumerate(reads):
        layout = lay_out("random", described(read, {}), longest_bytes=4096)
        for index, field in enumerate(read.fields):
            setting, wire = set_alone(field)
            probes.append(Probe(struct=f"S{number}", setting=setting))
            wires: list[int | float] = [0] * len(read.fields)
            wires[index] = wire
            expected.append((number, field.name, codec_of(layout).pack(wires)))

    built = images(compiler, header, probes, tmp_path_factory.mktemp("built"))

    for (number, name, packed), made in zip(expected, built, strict=True):
        assert packed.hex(" ") == made.hex(" "), f"{name} of {batch[number]}"
    check.agree([packed for _, _, packed in expected], list(built))


CTYPES = {
    "uint8_t": ctypes.c_uint8,
    "int16_t": ctypes.c_int16,
    "uint32_t": ctypes.c_uint32,
    "int64_t": ctypes.c_int64,
    "float": ctypes.c_float,
    "double": ctypes.c_double,
    "long": ctypes.c_long,
    "bool": ctypes.c_bool,
}


@outside("sizes and offsets of random C structs", source=LIBRARY.at("ctypes"), status=SECOND)
@given(
    types=st.lists(st.sampled_from(sorted(CTYPES)), min_size=1, max_size=10),
    pack=st.sampled_from([0, 1, 2, 4, 8]),
)
def test_structs_of_the_host_lie_as_ctypes_lays_them(types: list[str], pack: int) -> None:
    # Second opinion: ctypes of the Python that runs this. Its bit fields are left out: it has
    # rules of its own for runs of mixed types.
    body = " ".join(f"{name} m{index};" for index, name in enumerate(types))
    pragma = f"#pragma pack({pack})\n" if pack else ""
    members = {"_fields_": [(f"m{i}", CTYPES[name]) for i, name in enumerate(types)]}
    theirs = type("Theirs", (ctypes.Structure,), {**({"_pack_": pack} if pack else {}), **members})

    with parsed_here():
        ours = read_struct("s.h", f"{HEAD}{pragma}struct S {{ {body} }};", "S", "host")

    offsets = [getattr(theirs, f"m{index}").offset for index in range(len(types))]
    check.agree(ours.size_bytes, ctypes.sizeof(theirs))
    check.agree([field.at_bit // 8 for field in ours.fields], offsets)


@outside(
    "sizes of C structs by the published rules, avr and arm",
    source=f"{AAPCS32.key}; {FACTS.at('14')}",
    status=DERIVED,
    unit="bytes",
)
@pytest.mark.parametrize(
    ("body", "avr", "arm"),
    [
        # AAPCS32 5.3.1 (composite types: natural alignment, size a multiple of it); sizes worked
        # by hand (facts 14, D).
        ("uint8_t a; uint16_t b; uint32_t c; uint8_t d;", (8, [0, 1, 3, 7]), (12, [0, 2, 4, 8])),
        ("uint8_t a; float b; uint8_t c;", (6, [0, 1, 5]), (12, [0, 4, 8])),
        ("char a; short b; unsigned short c; short int d;", (7, [0, 1, 3, 5]), (8, [0, 2, 4, 6])),
        ("double a; char b;", (5, [0, 4]), (16, [0, 8])),
        ("long long a; char b;", (9, [0, 8]), (16, [0, 8])),
        # AAPCS32 7.1.7.5 (from memory): a bit field never straddles its container, and the
        # container's type raises the struct's alignment. On avr it follows the one before (seen
        # in what avr-gcc makes of it).
        ("uint8_t a : 5; uint8_t b : 5;", (2, [0, 0]), (2, [0, 1])),
        ("uint8_t a; uint32_t b : 3;", (2, [0, 1]), (4, [0, 1])),
    ],
)
def test_structs_of_the_published_rules(
    body: str, avr: tuple[int, list[int]], arm: tuple[int, list[int]]
) -> None:
    for abi, expected in (("avr", avr), ("arm", arm)):
        struct = read_struct("s.h", f"{HEAD}struct S {{ {body} }};", "S", abi)

        assert [field.at_bit // 8 for field in struct.fields] == expected[1]
        check.same(struct.size_bytes, expected[0])


@outside(
    "bytes of ten C ints and a uint8_t, avr and arm",
    source=f"{AAPCS32.key}; {FACTS.at('14')}",
    status=DERIVED,
)
def test_ten_ints_and_a_byte_fit_one_payload_and_not_the_other() -> None:
    # facts 14 (D): 21 bytes on avr; 44 on arm, over the 32 of a payload.
    text = f"{HEAD}struct S {{ int a[10]; uint8_t b; }};"

    sizes = [read_struct("s.h", text, "S", abi).size_bytes for abi in ("avr", "arm")]

    check.same(" and ".join(map(str, sizes)), "21 and 44")
