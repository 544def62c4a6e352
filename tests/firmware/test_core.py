"""The rung `core`: the chip's own widths, by avr-gcc and the emulator that Debian packs.

Widths are those of the compiler's ABI (avr-gcc, AVR Options: int 16 bits, long 32 bits); the host's
are those of the ABI that `cc` compiles for (int 32 bits, long 64 bits on x86-64).
"""

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from radiosim.errors import FirmwareError
from radiosim.firmware import emulator as emulated
from radiosim.firmware.bench import Bench, bench_of, line_of
from radiosim.firmware.build import built_for_host
from radiosim.firmware.core import built_for_core
from radiosim.firmware.emulator import CORE_BENCH, emulator, lacking
from radiosim.firmware.script import BOOTS, FAILSAFE_STATE, STOPS, Reply, Script, Status
from tests.firmware.hand_scripts import MS, S, hand_script

SOURCE = Path(__file__).parent / "widths.c"
needs_core = pytest.mark.skipif(lacking() is not None, reason=lacking() or "")


@pytest.fixture(scope="module")
def core() -> Iterator[Bench]:
    with (
        built_for_core([SOURCE], {}) as built,
        emulator(CORE_BENCH) as shim,
        bench_of(built.executable, emulator=shim) as bench,
    ):
        yield bench


@pytest.fixture(scope="module")
def host() -> Iterator[Bench]:
    with built_for_host([SOURCE], {}) as built, bench_of(built.executable) as bench:
        yield bench


def frames(raw: int = 300, *, pipe: int = 1, until_ms: int = 400) -> Script:
    """A frame every 20 ms until an instant, and silence after it; a pass a millisecond."""
    content = raw.to_bytes(2, "little", signed=True)
    return hand_script(
        until_ns=S,
        arrivals=[(at * MS + 1, pipe, content) for at in range(20, until_ms, 20)],
        passes=[(MS, MS, 999)],
    )


def at_wrap(bits: int) -> Script:
    """The same, its clock over 2 to the power `bits` 50 ms after the last frame."""
    content = (300).to_bytes(2, "little")
    return hand_script(
        until_ns=S,
        arrivals=[(at * MS + 1, 1, content) for at in range(20, 400, 20)],
        passes=[(MS, MS, 999)],
        clock_ms=2**bits - 430,
    )


def levels(answer: Reply, output: int) -> list[tuple[int, int]]:
    """What one servo was told, as (ms, us)."""
    mine = answer.outs[(answer.outs["output"] == output) & (answer.outs["kind"] != FAILSAFE_STATE)]
    return [(int(at) // MS, int(us)) for at, us in zip(mine["at_ns"], mine["value"], strict=True)]


@needs_core
def test_where_widths_do_not_matter_core_and_host_answer_the_same(core: Bench, host: Bench) -> None:
    script = frames(raw=60)
    mine, other = core.run(script), host.run(script)
    assert mine.head["status"] == other.head["status"] == Status.FINE
    assert mine.head["stamp"] == other.head["stamp"] == 0x51DE5EED
    assert np.array_equal(mine.outs, other.outs)
    assert np.array_equal(mine.takes, other.takes)
    assert len(mine.takes) == 19


@needs_core
def test_a_product_that_an_int_of_16_bits_cannot_hold_shows_on_core_alone(
    core: Bench, host: Bench
) -> None:
    # 300 · 500 is 150,000; what is left of it in 16 bits is 18,928.
    assert levels(core.run(frames(300)), 0)[1][1] == 1500 + 18_928 // 1000
    assert levels(core.run(frames(300)), 1)[0][1] == 1650
    assert levels(host.run(frames(300)), 0)[1][1] == 1650


@needs_core
def test_a_deadline_that_is_compared_breaks_where_the_chips_int_wraps(
    core: Bench, host: Bench
) -> None:
    last_ms = 380
    mine, other = core.run(at_wrap(16)), host.run(at_wrap(16))
    # The deadline is past the wrap and the clock is not: over at once.
    assert next(level for level in levels(mine, 3) if level[1] == 1000)[0] < last_ms
    assert levels(other, 3) == [(21, 2000), (682, 1000)]
    for output in (2, 4, 5):
        assert levels(mine, output) == [(21, 2000), (682, 1000)]


@needs_core
def test_correct_differences_hold_where_32_bits_wrap(core: Bench, host: Bench) -> None:
    mine, other = core.run(at_wrap(32)), host.run(at_wrap(32))
    for output in (2, 4, 5):
        assert levels(mine, output) == [(21, 2000), (682, 1000)]
    # A long of 64 bits does not wrap: the host blames a program that is right on the chip.
    assert levels(other, 5) != levels(mine, 5)


@needs_core
def test_each_boot_begins_with_fresh_variables(core: Bench) -> None:
    script = hand_script(
        until_ns=S,
        steps=[(0, BOOTS), (300 * MS, STOPS), (500 * MS, BOOTS)],
        passes=[(MS, MS, 299), (501 * MS, MS, 400)],
    )
    answer = core.run(script)
    assert levels(answer, 6) == [(0, 1000), (500, 1000)]
    assert int(answer.head["passes"]) == 699


@needs_core
@pytest.mark.parametrize(
    ("pipe", "status"),
    [(2, Status.ENDLESS), (3, Status.CRASHED), (5, Status.NO_SUCH_OUTPUT)],
)
def test_what_goes_wrong_is_named_with_its_instant(core: Bench, pipe: int, status: Status) -> None:
    answer = core.run(frames(pipe=pipe))
    assert answer.head["status"] == status
    assert int(answer.head["at_ns"]) == 21 * MS
    names = {2: "wait_for_ever", 3: "sink"}
    if pipe in names:
        place = int(answer.head["pc"])
        function = line_of(core.executable, place, tool="avr-addr2line")[0]
        assert function in (names[pipe], "rx_pass", "rx_ms", "asked")
    else:
        assert int(answer.head["named"]) == 9
    # The bench goes on.
    assert core.run(frames(60)).head["status"] == Status.FINE


@needs_core
def test_a_wait_swallows_the_passes_meanwhile(core: Bench, host: Bench) -> None:
    script = frames(60, pipe=4)
    mine, other = core.run(script), host.run(script)
    assert int(mine.head["waited_most_ns"]) == 1_500_000
    assert int(mine.head["swallowed"]) == int(other.head["swallowed"]) == 19
    assert np.array_equal(mine.outs, other.outs)


@pytest.mark.parametrize(
    ("tool", "package"), [("avr-gcc", "gcc-avr and avr-libc"), ("cc", "package gcc")]
)
def test_what_lacks_is_said_with_what_to_install(
    monkeypatch: pytest.MonkeyPatch, tool: str, package: str
) -> None:
    monkeypatch.setattr(
        emulated.shutil, "which", lambda name: None if name == tool else f"/usr/bin/{name}"
    )
    why = lacking()
    assert why is not None
    assert package in why
    said = pytest.raises(FirmwareError, match=f"rung core: {tool} is not installed here")
    with said, built_for_core([SOURCE], {}):
        pass


def test_without_the_library_its_package_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(emulated.shutil, "which", lambda name: f"/usr/bin/{name}")
    monkeypatch.setattr(emulated, "_HEADER", "no_such_folder/sim_avr.h")
    assert "libsimavr-dev" in (lacking(compiles=False) or "")
