"""However a program ends, it is told in one line, and nothing waits for it."""

import os
from contextlib import suppress
from pathlib import Path

import pytest

from radiosim.errors import FirmwareError
from radiosim.firmware import script
from radiosim.firmware.bench import bench_of
from radiosim.firmware.build import built_for_host
from radiosim.firmware.settings_header import link_header
from radiosim.firmware.tried import Tried, tried
from tests.firmware.planted import CAR, ONE_OFF, scenario_of
from tests.firmware.programs import needs_compiler

pytestmark = needs_compiler

PROGRAM = """
#include "link.h"
#include "receiver.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>
const uint32_t rx_stamp = LINK_STAMP;
static int taken;
static void seen(volatile int *where) { taken++; MISTAKE }
void rx_boot(void) { BOOT }
void rx_pass(void)
{
    uint8_t pipe, bytes[32];
    while (rx_take(&pipe, bytes))
        seen(0);
}
"""
WORDS = {
    "if (taken == 100) *where = 1;": "crashed (segmentation fault) in rx_pass (rx.c:10, seen)",
    "if (taken == 100) abort();": "crashed (aborted) in rx_pass",
    "if (taken == 100) exit(0);": "ended its process in rx_pass, called at",
    "if (taken == 100) _exit(3);": "ended its process in rx_pass",
    "while (taken == 100);": "goes round and round in rx_pass (rx.c:10, seen)",
    "while (taken == 100) rx_wait_us(1000);": "waits for time or for a frame in rx_pass (rx.c:10",
    "while (taken == 100 && rx_ms());": "waits for time or for a frame in rx_pass (rx.c:10",
    "rx_pulse(9, 1500);": "wrote to output 9, which is not there (there are: 0 motor, 1 steer",
    "rx_level(0, 1);": "wrote to output 0 (motor) otherwise than by rx_pulse in rx_pass (rx.c:10",
    "rx_failsafe(6, 1);": "told of failsafe of pipe 6, on which nobody sends (of [1, 2])",
    "if (taken == 100) { void (*no)(void) = 0; no(); }": "crashed (segmentation fault) in rx_pass",
}


def outcome(text: str, folder: Path, *, boot: str = "", buffer: int = 32) -> Tried:
    source = folder / "rx.c"
    program = PROGRAM.replace("MISTAKE", text).replace("BOOT", boot)
    source.write_text(program.replace("bytes[32]", f"bytes[{buffer}]"))
    scenario = scenario_of((*CAR, ONE_OFF))
    headers = {"link.h": link_header(scenario)}
    with built_for_host([source], headers) as built, bench_of(built.executable) as bench:
        return tried(scenario, 0, bench)


@pytest.mark.parametrize("text", WORDS)
def test_it_is_said_what_happened_where_and_when(
    text: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(script, "ENDLESS_S", 0.1)
    found = outcome(text, tmp_path)

    assert found.difference is None
    assert found.ended is not None
    assert WORDS[text] in found.ended.text
    assert "\n" not in found.ended.text
    assert 0.5 < found.ended.at_ns / 1e9 < 9


def test_a_buffer_that_is_too_short_is_named(tmp_path: Path) -> None:
    found = outcome("", tmp_path, buffer=8)

    assert found.ended is not None
    assert "wrote past the end of a buffer" in found.ended.text
    assert "in rx_pass (rx.c:1" in found.ended.text


def test_what_it_prints_is_told_and_does_not_get_among_replies(tmp_path: Path) -> None:
    found = outcome('printf("frame %d\\n", taken);', tmp_path, boot='puts("up");')

    assert found.ended is None
    assert found.printed == "up"
    assert found.printed_bytes > 1000


def test_globals_begin_anew_with_each_boot(tmp_path: Path) -> None:
    source = tmp_path / "rx.c"
    source.write_text(PROGRAM.replace("MISTAKE", "").replace("BOOT", 'printf("%d\\n", taken++);'))
    reset = "fault=[{at_s=4.0, kind='reset', unit='receiver'}]"
    scenario = scenario_of((*CAR, reset))
    with (
        built_for_host([source], {"link.h": link_header(scenario)}) as built,
        bench_of(built.executable) as bench,
    ):
        assert tried(scenario, 0, bench).printed_bytes == len("0\n0\n")


def test_a_program_that_waits_for_something_else_is_ended(tmp_path: Path) -> None:
    source = tmp_path / "rx.c"
    source.write_text(PROGRAM.replace("MISTAKE", "pause();").replace("BOOT", ""))
    scenario = scenario_of((*CAR, ONE_OFF))
    with (
        built_for_host([source], {"link.h": link_header(scenario)}) as built,
        bench_of(built.executable, longest_s=0.3) as bench,
        pytest.raises(FirmwareError, match=r"did not come back in 0\.3 s of real time"),
    ):
        tried(scenario, 0, bench)


def alive(group: int) -> list[str]:
    """Processes of a group that are more than an entry in a table."""
    found = []
    for place in Path("/proc").glob("[0-9]*/stat"):
        with suppress(OSError):
            state, _, of = place.read_text().rpartition(")")[2].split()[:3]
            found += [place.parent.name] if int(of) == group and state not in "ZX" else []
    return found


@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="needs /proc")
def test_a_bench_is_gone_with_all_that_it_started(tmp_path: Path) -> None:
    source = tmp_path / "rx.c"
    source.write_text(PROGRAM.replace("MISTAKE", "").replace("BOOT", "if (!fork()) pause();"))
    scenario = scenario_of((*CAR, ONE_OFF))
    with (
        built_for_host([source], {"link.h": link_header(scenario)}) as built,
        bench_of(built.executable) as bench,
    ):
        tried(scenario, 0, bench)
        group = bench.group
        assert len(alive(group)) > 1

    while alive(group):  # it was ended, but the kernel takes its time
        os.sched_yield()


@pytest.mark.parametrize(
    ("name", "text", "words"),
    [
        ("rx.c", "int x = ;", r"does not compile: .*rx\.c:1:9: error: "),
        ("rx.c", '#include "nowhere.h"', r"does not compile: .*nowhere\.h"),
        ("rx.c", "void rx_boot(void) {}", "does not link: .*rx_pass"),
        ("rx.py", "", "a source must end with .c, .cpp, .cc, .cxx"),
    ],
)
def test_what_does_not_build_is_refused_in_one_line(
    name: str, text: str, words: str, tmp_path: Path
) -> None:
    source = tmp_path / name
    source.write_text(text)

    with pytest.raises(FirmwareError, match=words) as refused, built_for_host([source], {}):
        pass
    assert "\n" not in str(refused.value)


def test_a_missing_compiler_and_a_missing_file_are_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with pytest.raises(FirmwareError, match=r"rx\.c: there is no such file"):
        built_for_host([tmp_path / "rx.c"], {}).__enter__()
    (tmp_path / "rx.c").write_text("")
    monkeypatch.setenv("CC", "no-such-cc")
    with pytest.raises(FirmwareError, match="no-such-cc: no such compiler here; install one"):
        built_for_host([tmp_path / "rx.c"], {}).__enter__()
