"""Random C structs, and what real compilers make of them."""

import shutil
import struct as bytes_of
import subprocess
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any
from unittest.mock import patch

from hypothesis import strategies as st

from radiosim.c_header import struct_reader
from radiosim.c_header.abi import ABIS
from radiosim.c_header.sources import Sources

INTEGERS = (
    "uint8_t",
    "int8_t",
    "uint16_t",
    "int16_t",
    "uint32_t",
    "int32_t",
    "uint64_t",
    "int64_t",
    "char",
    "signed char",
    "short",
    "unsigned short",
    "int",
    "unsigned",
    "long",
    "unsigned long",
    "long long",
)
OTHERS = ("float", "double", "bool", "enum Few", "enum Many")
PRELUDE = """
enum Few { FEW_A, FEW_B = 3 };
enum Many { MANY_A, MANY_B = 300 };
struct Inner { uint8_t first; int32_t second; };
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Compiler:
    """A real compiler of one target."""

    abi: str
    command: tuple[str, ...]

    @property
    def is_there(self) -> bool:
        return shutil.which(self.command[0]) is not None


COMPILERS = (
    Compiler(abi="host", command=("gcc",)),
    Compiler(abi="avr", command=("avr-gcc", "-mmcu=avr5")),
    Compiler(abi="arm", command=("arm-none-eabi-gcc",)),
    Compiler(abi="xtensa", command=("xtensa-lx106-elf-gcc",)),
    Compiler(
        abi="riscv32",
        command=("riscv64-unknown-elf-gcc", "-march=rv32i", "-mabi=ilp32"),
    ),
)


@st.composite
def members(draw: st.DrawFn, number: int) -> str:
    """One member of a struct, as C text."""
    name = f"m{number}"
    shape = draw(st.sampled_from(["plain", "plain", "bits", "bits", "other", "array", "inner"]))
    type_name = draw(st.sampled_from(OTHERS if shape == "other" else INTEGERS))
    if shape == "bits":
        widest = 8 if "char" in type_name or "8" in type_name else 16
        bits = draw(st.integers(0, widest))
        is_named = bits > 0 and draw(st.integers(0, 5)) > 0
        return f"{type_name} {name if is_named else ''} : {bits};"
    if shape in ("inner", "other"):
        return f"{'struct Inner' if shape == 'inner' else type_name} {name};"
    attribute = draw(st.sampled_from(["", "", "", " __attribute__((aligned(4)))"]))
    count = f"[{draw(st.integers(1, 3))}]" if shape == "array" else ""
    return f"{type_name} {name}{count}{attribute};"


@st.composite
def structs(draw: st.DrawFn, name: str) -> str:
    """A struct with its attributes, as C text."""
    count = draw(st.integers(1, 7))
    body = " ".join(draw(members(index)) for index in range(count))
    body += " uint8_t last;"  # so that there is one member at least
    head = draw(
        st.sampled_from(
            ["", "", "__attribute__((packed)) ", "__attribute__((packed, aligned(4))) "]
        )
    )
    text = f"struct {head}{name} {{ {body} }};"
    pack = draw(st.sampled_from([0, 0, 0, 1, 2, 4]))
    return f"#pragma pack(push, {pack})\n{text}\n#pragma pack(pop)" if pack else text


@dataclass(frozen=True, slots=True, kw_only=True)
class Probe:
    """A struct with one field set, all others zero."""

    struct: str
    setting: str
    """The initialiser of that field, as `.m1 = -1`."""


@contextmanager
def parsed_here() -> Iterator[None]:
    """Headers are parsed in this process: one of their own for each of many takes most of the time.

    Each must be sound.
    """
    from radiosim.c_header._parse import load_parser
    from radiosim.c_header._struct import found_struct

    def results(main: str, sources: Sources, struct: str, targets: tuple[str, ...]) -> Any:
        return {one: asdict(found_struct(main, sources, struct, ABIS[one])) for one in targets}

    load_parser()
    with patch.object(struct_reader, "_results", results):
        yield


def images(compiler: Compiler, header: str, probes: Sequence[Probe], folder: Path) -> list[bytes]:
    """The bytes of each probe, as the compiler puts them into an object file."""
    lines = ["#include <stdint.h>", "#include <stdbool.h>", header]
    lines += [
        f'const struct {probe.struct} p{number} __attribute__((section("at.{number}"), used)) = '
        f"{{ {probe.setting} }};"
        for number, probe in enumerate(probes)
    ]
    source, built = folder / f"{compiler.abi}.c", folder / f"{compiler.abi}.o"
    source.write_text("\n".join(lines) + "\n", encoding="ascii")
    # The flags keep the compiler quiet about what packing does; freestanding needs no C library.
    arguments = ["-std=gnu11", "-ffreestanding", "-w", "-c", str(source), "-o", str(built)]
    subprocess.run([*compiler.command, *arguments], check=True, capture_output=True, text=True)
    return [
        contents.get(f"at.{n}", b"") for contents in (_sections(built),) for n in range(len(probes))
    ]


def _sections(built: Path) -> dict[str, bytes]:
    """Sections of a 32- or 64-bit ELF file with the lowest byte first, by name."""
    raw = built.read_bytes()
    is_wide = raw[4] == 2
    start, size, count, names_at = (
        bytes_of.unpack_from("<Q", raw, 40) + bytes_of.unpack_from("<HHH", raw, 58)
        if is_wide
        else bytes_of.unpack_from("<I", raw, 32) + bytes_of.unpack_from("<HHH", raw, 46)
    )
    found = []
    for number in range(count):
        at = start + number * size
        (name,) = bytes_of.unpack_from("<I", raw, at)
        offset, length = bytes_of.unpack_from(
            "<QQ" if is_wide else "<II", raw, at + (24 if is_wide else 16)
        )
        found.append((name, offset, length))
    _, names, _ = found[names_at]
    return {
        raw[names + name : raw.index(b"\0", names + name)].decode("ascii"): raw[
            offset : offset + length
        ]
        for name, offset, length in found
    }
