"""The probe: its C compiled, run, and its bytes read back; and what the page says it costs."""

import re
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest

from radiosim.bench_log.probe_records import decoded
from radiosim.bench_log.records import ACKNOWLEDGED, Event
from radiosim.errors import OptionError
from radiosim.firmware.settings_header import stamp_of
from radiosim.safety import CAUTION
from radiosim.scenario import parse
from radiosim.study.fit.probe_files import (
    ARM_INSTRUCTIONS,
    AVR_INSTRUCTIONS,
    probe_header,
    probe_page,
)
from tests.cli.typed import tiny, typed

LINK = """
radio.profile = "gfsk-1M"
transmitter.drive = { period_ms = 20, payload_bytes = 6 }
transmitter.head = { period_ms = 23, payload_bytes = 6 }
failsafe.drive = { timeout_ms = 250 }
output.motor = { stream = "drive", field = "value", on_failsafe = { preset_us = 1500 } }
"""
MAIN = """
#include <stdint.h>
#include <stdio.h>
static uint32_t now = 4294967290u;
#define PROBE_US() (now += 7)
#define PROBE_LOG2 3
#define PROBE_PASSES 3
#define PROBE_HERE
#include "probe.h"
static uint8_t put(const uint8_t record[8]) { return fwrite(record, 8, 1, stdout) == 1; }
static uint8_t full(const uint8_t record[8]) { (void)record; return 0; }
int main(void)
{
    uint16_t k;
    probe_boot();
    probe_read(PROBE_HEAD, 0xABCD);
    probe_sample(PROBE_DRIVE, 9);
    probe_done(PROBE_DRIVE, 1, 3);
    probe_drain(full);
    probe_drain(put);
    probe_output(PROBE_OUT_MOTOR, 1500);
    probe_failsafe(PROBE_HEAD, 7);
    for (k = 0; k < 4; k++)
        probe_pass();
    probe_drain(put);
    for (k = 0; k < 20; k++)
        probe_mark(k);
    probe_drain(put);
    probe_mark(99);
    probe_drain(put);
    return 0;
}
"""
needs_gcc = pytest.mark.skipif(shutil.which("gcc") is None, reason="no gcc here")


def written(folder: Path, main: str) -> Path:
    (folder / "probe.h").write_text(probe_header(parse(LINK)), encoding="utf-8")
    source = folder / "main.c"
    source.write_text(main, encoding="utf-8")
    return source


def run(*words: str | Path) -> bytes:
    return subprocess.run([*map(str, words)], check=True, capture_output=True).stdout


@needs_gcc
def test_what_the_probe_sends_is_read_as_it_was_called(tmp_path: Path) -> None:
    source, program = written(tmp_path, MAIN), tmp_path / "main"
    strict = ("-std=c99", "-Wall", "-Wextra", "-Wpedantic", "-Werror")
    run("gcc", *strict, source, "-o", program)

    records, strange = decoded(run(program), "a")

    assert strange == 0
    stamp = int(stamp_of(parse(LINK)), 16)
    told = [tuple(row)[1:] for row in records.tolist()]
    assert told[:5] == [
        (Event.BOOT, 0, stamp >> 16),
        (Event.STAMP, 0, stamp & 0xFFFF),
        (Event.READ, 1, 0xABCD),
        (Event.SAMPLE, 0, 9),
        (Event.DONE, 0, ACKNOWLEDGED | 3),
    ]
    assert told[5:10] == [
        (Event.OUTPUT, 0, 1500),
        (Event.FAILSAFE, 1, 1),
        (Event.PASS, 0, 0),
        (Event.PASS, 0, 3),
        (Event.LONGEST, 0, 7),
    ]
    # A ring of eight: of twenty marks twelve are lost, and told before the next that fits.
    assert told[10:] == [
        *((Event.MARK, 0, k) for k in range(8)),
        (Event.LOST, 0, 12),
        (Event.MARK, 0, 99),
    ]
    # Each call sees its clock once, over the wrap of 32 bits.
    t_us = records["t_us"]
    assert np.all(np.diff(t_us) % 2**32 % 7 == 0)
    assert t_us.max() < 2**32


TARGETS = {
    "avr": ("avr-gcc", ("-mmcu=avr5",), "avr-objdump", AVR_INSTRUCTIONS),
    "arm": (
        "arm-none-eabi-gcc",
        ("-mthumb", "-Wl,-e,main"),
        "arm-none-eabi-objdump",
        ARM_INSTRUCTIONS,
    ),
}
COUNTED = """
#include <stdint.h>
volatile uint32_t now_us;
#define PROBE_US() now_us
#define PROBE_HERE
#include "probe.h"
int main(void) { probe_read(0, 1); return 0; }
"""


def instructions(text: str) -> int:
    """Of a record: all of three functions, and of the loop over seven bytes six turns more."""
    total = 0
    for name in ("probe_read", "probe_at", "probe_place"):
        found = re.search(rf"<{name}>:\n(.*?)\n\n", f"{text}\n\n", re.DOTALL)
        assert found is not None, name
        rows = re.findall(r"^\s+([0-9a-f]+):\t[0-9a-f ]+\t(.*)$", found[1], re.MULTILINE)
        places = [int(place, 16) for place, _ in rows]
        total += len(rows)
        if name != "probe_place":
            continue
        for place, (_, words) in zip(places, rows, strict=True):
            to = re.match(r"b\S*\s+(?:.*; 0x)?([0-9a-f]+)\b", words)
            if to and places[0] <= int(to[1], 16) < place:
                total += 6 * sum(int(to[1], 16) <= other <= place for other in places)
    return total


@pytest.mark.parametrize("target", TARGETS)
def test_a_record_costs_what_the_page_says(target: str, tmp_path: Path) -> None:
    compiler, flags, dump, most = TARGETS[target]
    if shutil.which(compiler) is None or shutil.which(dump) is None:
        pytest.skip(f"no {compiler} here")
    source, program = written(tmp_path, COUNTED), tmp_path / "a.elf"
    plain = ("-std=c99", "-Os", "-fno-inline", "-nostartfiles")
    run(compiler, *plain, *flags, source, "-o", program)

    found = instructions(run(dump, "-d", program).decode())

    # Versions of a compiler differ by some instructions.
    assert most * 0.8 <= found <= most * 1.2


def test_header_and_page_carry_the_caution() -> None:
    scenario = parse(LINK)

    assert CAUTION in probe_header(scenario)
    page = probe_page(scenario)
    assert CAUTION in page
    assert str(AVR_INSTRUCTIONS) in page
    assert "PROBE_HEAD (head)" in page
    assert "PROBE_OUT_MOTOR (motor)" in page


def test_the_command_writes_both(tmp_path: Path) -> None:
    done = typed("probe", tiny(tmp_path), "--to", tmp_path / "into")

    assert done.code == 0
    assert sorted(path.name for path in (tmp_path / "into").iterdir()) == ["probe.h", "probe.md"]
    assert CAUTION.split(";")[0] in " ".join(done.out.split())


def test_more_outputs_than_a_record_can_number_are_refused() -> None:
    more = "".join(
        f'output.o{k} = {{ stream = "drive", field = "value", on_failsafe = "hold" }}\n'
        for k in range(17)
    )
    with pytest.raises(OptionError, match="a record numbers 16 outputs, the scenario has 1"):
        probe_header(parse(LINK + more))
