"""The header with the settings of a link."""

import shutil
import subprocess
from pathlib import Path

import pytest

from radiosim.firmware.settings_header import settings_header, stamp_of
from radiosim.safety import CAUTION
from radiosim.scenario import Scenario, parse
from radiosim.scenario.assumed import guessed_presets
from radiosim.scenario.shipped import shipped_scenarios
from tests.study.tune.scenarios import shipped, two

gcc = pytest.mark.skipif(shutil.which("gcc") is None, reason="needs gcc")


def compiled(header: str, folder: Path, program: str, compiler: str, standard: str) -> Path:
    """A program that includes the header, compiled without a warning."""
    (folder / "settings.h").write_text(header, encoding="utf-8")
    source = folder / ("main.c" if compiler == "gcc" else "main.cpp")
    source.write_text(f'#include "settings.h"\n{program}', encoding="utf-8")
    binary = folder / "main"
    strict = ("-Wall", "-Wextra", "-Werror", "-pedantic")
    subprocess.run([compiler, standard, *strict, str(source), "-o", str(binary)], check=True)
    return binary


def said(given: Scenario, folder: Path, form: str, *values: str) -> str:
    """What a program prints of the header's values."""
    program = (
        "#include <stdio.h>\n"
        "static const uint8_t address[] = LINK_HEAD_ADDRESS;\n"
        f'int main(void) {{ printf("{form}", {", ".join(values)}); return sizeof address != 5; }}\n'
    )
    binary = compiled(settings_header(given), folder, program, "gcc", "-std=c11")
    return subprocess.run([str(binary)], check=True, capture_output=True, text=True).stdout


@gcc
def test_the_header_says_what_the_scenario_says(tmp_path: Path) -> None:
    given = shipped("culvert-crawler")
    values = {
        "LINK_CHANNEL": "79",
        "LINK_BIT_RATE": "250000",
        "LINK_ADDRESS_BYTES": "5",
        "LINK_CHECKSUM_BYTES": "2",
        "LINK_DRIVE_PIPE": "1",
        "LINK_DRIVE_PERIOD_US": "20000",
        "LINK_DRIVE_PAYLOAD_BYTES": "5",
        "LINK_DRIVE_RETRY_DELAY_US": "750",
        "LINK_DRIVE_RETRY_STEP": "2",
        "LINK_DRIVE_RETRY_LIMIT": "5",
        "LINK_HEAD_PERIOD_US": "23000",
        "LINK_HEAD_RETRY_STEP": "9",
        "LINK_DRIVE_FAILSAFE_TIMEOUT_US": "250000",
        "LINK_DRIVE_RESUME_FRAMES": "5",
        "LINK_OUT_LEFT_TRACK_FAILSAFE_US": "1500",
        "LINK_OUT_LAMP_ON_FAILSAFE": "0",
        "LINK_OUT_PAN_ON_FAILSAFE": "1",
        "address[4]": str(given.transmitter["head"].address_octets[0]),
        "LINK_STAMP": str(int(stamp_of(given), 16)),
    }
    form = " ".join("%lu" for _ in values)
    found = said(given, tmp_path, form, *(f"(unsigned long){name}" for name in values))

    assert found.split() == list(values.values())


@gcc
@pytest.mark.parametrize("name", [it.name for it in shipped_scenarios()])
@pytest.mark.parametrize(("compiler", "standard"), [("gcc", "-std=c11"), ("g++", "-std=c++11")])
def test_every_shipped_scenario_compiles_in_c_and_cpp(
    tmp_path: Path, name: str, compiler: str, standard: str
) -> None:
    if shutil.which(compiler) is None:
        pytest.skip(f"needs {compiler}")
    program = "int main() { return LINK_STAMP == 0; }\n"
    program = program.replace("main()", "main(void)")
    binary = compiled(
        settings_header(shipped(name), ["a *\\/ caution"]), tmp_path, program, compiler, standard
    )

    assert subprocess.run([str(binary)], check=False).returncode == 0


def test_the_stamp_is_of_the_link_not_of_how_it_was_simulated() -> None:
    stamp = stamp_of(two())

    assert stamp == stamp_of(two("starts=7", "duration_s=1", "seed=5", "title='x'"))
    assert stamp == stamp_of(two("requirement=[{figure='stream.drive.gap_ms.max', at_most=9}]"))
    assert stamp == stamp_of(two("receiver.loop_ms=0.7", "air.loss=0.1"))
    assert stamp == stamp_of(two("transmitter.drive.clock_ppm=3"))
    assert stamp != stamp_of(two("transmitter.drive.period_ms=21"))
    assert stamp != stamp_of(two("radio.channel=5"))
    assert stamp != stamp_of(two("failsafe.drive.timeout_ms=251"))


def test_names_that_would_make_one_macro_are_told_apart() -> None:
    given = parse(
        'radio.profile = "gfsk-1M"\n'
        "transmitter.a-b = { period_ms = 20, payload_bytes = 6 }\n"
        "transmitter.a_b = { period_ms = 23, payload_bytes = 6, retry_delay_us = 1750 }\n"
    )
    header = settings_header(given)

    assert "#define LINK_A_B_PERIOD_US 20000UL" in header
    assert "#define LINK_A_B_2_PERIOD_US 23000UL" in header


def test_a_preset_value_and_a_fixed_payload_length_are_there() -> None:
    output = "output.lamp={stream='drive', field='value', kind='pwm', on_failsafe={preset=0.25}}"
    header = settings_header(two(output, "radio.payload_length=32"))

    assert "#define LINK_OUT_LAMP_FAILSAFE_VALUE (0.25)" in header
    assert "#define LINK_DRIVE_PAYLOAD_BYTES 32" in header


def test_what_its_reader_must_know_stands_at_its_top() -> None:
    header = settings_header(two(), ["the clocks of drive and head beat"])

    assert header.splitlines()[2] == "   CAUTION: the clocks of drive and head beat."


def test_times_are_exact_to_the_microsecond_and_what_is_rounded_says_so() -> None:
    header = settings_header(
        two("failsafe.drive.timeout_ms=250.6", "transmitter.head.period_ms=23.0004")
    )

    assert "#define LINK_DRIVE_FAILSAFE_TIMEOUT_US 250600UL\n" in header
    assert "#define LINK_HEAD_PERIOD_US 23000UL /* rounded: 23000.4 */\n" in header


def test_what_draws_the_periods_of_a_transmitter_stands_beside_its_period() -> None:
    header = settings_header(two("transmitter.head.dither_ms=2.5"))

    assert "#define LINK_HEAD_DITHER_US 2500UL\n" in header
    assert "LINK_DRIVE_DITHER_US" not in header


def test_a_caution_is_printed_as_it_is_said_and_cannot_end_the_comment() -> None:
    cautions = ["they miss a requirement, or were not confirmed", "a*/b/*c\nd\\"]
    header = settings_header(two(), cautions)

    assert "   CAUTION: they miss a requirement, or were not confirmed." in header
    assert "   CAUTION: a*?b?*c?d?." in header


@pytest.mark.parametrize("name", [source.name for source in shipped_scenarios()])
def test_a_failsafe_value_that_nobody_has_said_is_in_no_header(name: str) -> None:
    given = shipped(name)
    header = settings_header(given)

    for output in guessed_presets(given):
        word = output.upper()
        assert f"LINK_OUT_{word}_ON_FAILSAFE" not in header
        assert f"LINK_OUT_{word}_FAILSAFE" not in header
        assert f"set output.{output}.on_failsafe." in header
    said = [n for n, o in given.output.items() if o.motor and o.motor.idle_us is not None]
    assert header.count("_IDLE_US ") == len(said)


def test_what_the_smallest_scenario_does_on_failsafe_is_not_made_up() -> None:
    assert guessed_presets(shipped("smallest")) == ("drive",)


def test_the_caution_stands_in_its_comment_in_one_line() -> None:
    assert f"   CAUTION: {CAUTION} */" in settings_header(two()).splitlines()
