"""What a receiver's program runs on: this machine, an emulated core, or an emulated chip."""

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path

from radiosim.errors import OptionError
from radiosim.firmware.bench import Bench, bench_of
from radiosim.firmware.build import Built, built_for_host
from radiosim.firmware.core import built_for_core
from radiosim.firmware.emulator import CORE_BENCH, emulator

RUNGS = HOST, CORE, CHIP = "host", "core", "chip"
IMAGE = ".elf"
"""How the name of a whole firmware's image ends."""


def rung_of(asked: str, sources: Sequence[str]) -> str:
    """The rung for some sources: an image is for the chip; OptionError for one on another."""
    if asked not in RUNGS:
        raise OptionError(f"--on: must be one of {', '.join(RUNGS)}, got {asked}")
    images = [source for source in sources if source.lower().endswith(IMAGE)]
    if images and len(sources) > 1:
        raise OptionError(f"SOURCE: {images[0]} is a whole firmware and must stand alone")
    if images and asked == CORE:
        raise OptionError(f"--on core: {images[0]} is a whole firmware, which runs on chip alone")
    if asked == CHIP and sources and not images:
        raise OptionError(f"--on chip: needs a whole firmware (FILE{IMAGE}), got {sources[0]}")
    return CHIP if images else asked


def check_pins(rung: str, pins: str | None) -> None:
    """OptionError where pins are needed and not told, or told and not needed."""
    if rung == CHIP and pins is None:
        raise OptionError(
            "--pins: must say what is on which pin of the chip, such as "
            "mhz=16,select=B2,enable=B1,motor=D3"
        )
    if rung != CHIP and pins is not None:
        raise OptionError(f"--pins: is for a whole firmware (FILE{IMAGE}), which runs on chip")


@contextmanager
def bench_on(
    rung: str, sources: Sequence[Path], headers: Mapping[str, str], *, traps: bool = False
) -> Iterator[tuple[Bench, Built]]:
    """A bench of a program on a rung; FirmwareError with what it lacks or does not compile.

    `traps`: on host it ends where it does what C leaves undefined.
    """
    if rung == HOST:
        with (
            built_for_host(sources, headers, traps=traps) as built,
            bench_of(built.executable) as bench,
        ):
            bench.traps = traps
            yield bench, built
        return
    with (
        built_for_core(sources, headers) as built,
        emulator(CORE_BENCH) as runs,
        bench_of(built.executable, emulator=runs) as bench,
    ):
        yield bench, built
