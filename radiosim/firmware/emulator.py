"""Benches on an emulated chip: they are compiled where the emulator's library is installed."""

import hashlib
import os
import shutil
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from radiosim.errors import FirmwareError
from radiosim.firmware.build import C_FOLDER, run_compiler, work_folder
from radiosim.firmware.kept_programs import keep, kept

TARGET = "atmega328p"
"""What avr-gcc calls the chip whose core runs programs of the rung `core`."""
CYCLES_PER_S = 16_000_000
CORE_BENCH, CHIP_BENCH = "core_bench.c", "chip_bench.c"
_HEADER = "simavr/sim_avr.h"
_FLAGS = ("-O2", "-g", "-std=gnu11", f'-DTARGET="{TARGET}"')
_NEEDS = {
    "avr-gcc": "gcc-avr and avr-libc",
    "cc": "gcc",
}


def lacking(*, compiles: bool = True) -> str | None:
    """What the emulated rungs lack here and what to install; None: nothing.

    `compiles`: whether sources are to be compiled for the chip, too.
    """
    if os.name != "posix":
        return "emulated rungs need a POSIX system (Linux, macOS), this is none"
    for tool, package in _NEEDS.items():
        if shutil.which(tool) is None and (compiles or tool != "avr-gcc"):
            return f"{tool} is not installed here: install the package {package}"
    try:
        run_compiler(None, ("cc", "-E", "-include", _HEADER, "-x", "c", os.devnull))
    except FirmwareError:
        return "the emulator's library is not installed here: install the package libsimavr-dev"
    return None


@contextmanager
def emulator(bench: str) -> Iterator[Path]:
    """Executable of one of the benches here, compiled unless it was before.

    FirmwareError with what to install where it cannot be.
    """
    texts = [path.read_bytes() for path in sorted(C_FOLDER.glob("*.[ch]"))]
    digest = hashlib.sha256(b"\0".join([*texts, repr((bench, _FLAGS)).encode()])).hexdigest()
    name = f"bench-{digest[:18]}"
    if (place := kept(name)) is not None:
        yield place / "bench"
        return
    if why := lacking(compiles=False):
        raise FirmwareError(why)
    with work_folder() as work:
        made = work / "made"
        made.mkdir()
        source = C_FOLDER / bench
        command = ("cc", *_FLAGS, "-I", str(C_FOLDER), str(source), "-lsimavr", "-o")
        run_compiler(source, (*command, str(made / "bench")))
        yield keep(made, name) / "bench"


def compiled_for_chip(
    work: Path, sources: Sequence[Path], *, board: Sequence[Path], defines: Sequence[str] = ()
) -> tuple[Path, list[str]]:
    """Image of a program and its board in `work`, where its headers stand, and all warnings.

    FirmwareError with the compiler's first line if a source does not compile.
    """
    common = (
        f"-mmcu={TARGET}",
        f"-DF_CPU={CYCLES_PER_S}UL",
        *("-Os", "-g", "-Wall", "-Wextra", "-I", str(work), "-I", str(C_FOLDER)),
        *(f"-D{define}" for define in defines),
    )
    objects: list[str] = []
    warned: list[str] = []
    for k, source in enumerate((*board, *sources)):
        is_c = source.suffix.lower() == ".c"
        tool = ("avr-gcc", "-std=gnu11") if is_c else ("avr-g++", "-x", "c++", "-std=gnu++11")
        objects.append(str(work / f"{k}.o"))
        said = run_compiler(source, (*tool, *common, "-c", str(source), "-o", objects[-1]))[1]
        if k >= len(board):
            warned += [line for line in said.splitlines() if ": warning: " in line]
    image = work / "rx.elf"
    run_compiler(None, ("avr-gcc", f"-mmcu={TARGET}", *objects, "-o", str(image)))
    return image, warned
