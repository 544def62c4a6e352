"""What a receiver's sources run on: this machine, or an emulated core."""

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path

from radiosim.firmware.bench import Bench, bench_of
from radiosim.firmware.build import Built, built_for_host
from radiosim.firmware.core import built_for_core
from radiosim.firmware.emulator import CORE_BENCH, emulator

HOST, CORE = "host", "core"


@contextmanager
def bench_on(
    rung: str, sources: Sequence[Path], headers: Mapping[str, str]
) -> Iterator[tuple[Bench, Built]]:
    """A bench of a program on a rung; FirmwareError with what it lacks or does not compile."""
    if rung == HOST:
        with built_for_host(sources, headers) as built, bench_of(built.executable) as bench:
            yield bench, built
        return
    with (
        built_for_core(sources, headers) as built,
        emulator(CORE_BENCH) as runs,
        bench_of(built.executable, emulator=runs) as bench,
    ):
        yield bench, built
