"""Builds a receiver's program for the emulated core: the same sources, the chip's own widths."""

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path

from radiosim.errors import FirmwareError
from radiosim.firmware.build import C_FOLDER, Built, checked_source, work_folder
from radiosim.firmware.emulator import compiled_for_chip, lacking

_BOARD = "core_board.c"


@contextmanager
def built_for_core(
    sources: Sequence[Path], headers: Mapping[str, str], defines: Sequence[str] = ()
) -> Iterator[Built]:
    """The program's image for `emulator(CORE_BENCH)`.

    `headers`: texts of what sources include, by name. FirmwareError with what to install where
    the rung lacks it, or with the compiler's first line if a source does not compile.
    """
    if why := lacking():
        raise FirmwareError(f"rung core: {why}; rung host needs no emulator")
    for source in sources:
        checked_source(source)
    with work_folder() as work:
        for name, text in headers.items():
            (work / name).write_text(text)
        image, warned = compiled_for_chip(
            work, sources, board=(C_FOLDER / _BOARD,), defines=defines
        )
        yield Built(executable=image, warning=warned[0] if warned else "", warnings=len(warned))
