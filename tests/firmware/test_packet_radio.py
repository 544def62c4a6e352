"""The radio on the chip's wires, as data sheets of such radios publish its registers.

Numbers of registers and commands, their values after power-on, "written as one is cleared", pipe 7
for an empty FIFO and the upper bytes that pipes above 1 take of pipe 1 stand in the register maps
of published data sheets; written down from memory.
"""

import shutil
import subprocess
from pathlib import Path

import pytest

from radiosim.firmware.build import C_FOLDER

pytestmark = pytest.mark.skipif(
    shutil.which("cc") is None, reason="no C compiler here: install gcc"
)
SET_UP = "t 1000 " + "".join(
    f"s {' '.join(f'x {byte:02X}' for byte in line)} r "
    for line in (
        (0x20, 0x0C),
        (0x25, 40),
        (0x26, 0x20),
        (0x22, 0x06),
        (0x2B, 1, 2, 3, 4, 5),
        (0x2C, 9),
        (0x32, 4),
        (0x33, 4),
        (0x20, 0x0F),
    )
)
LISTENS = SET_UP + "e 1 t 2000 "
SETTING_ANSWERS = 2 * 9 + 4 + 9
"""Answers that SET_UP gives: one a byte, and one for each time that it lets go."""


@pytest.fixture(scope="module")
def driver(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("radio") / "driver"
    source = Path(__file__).parent / "radio_driver.c"
    command = ("cc", "-Wall", "-Wextra", "-Werror", "-I", C_FOLDER, source, "-o", made)
    subprocess.run(command, check=True)
    return made


def answers(driver: Path, lines: str, *, after: int = 0) -> list[str]:
    done = subprocess.run((driver,), input=lines, capture_output=True, text=True, check=True)
    return done.stdout.split()[after:]


def test_registers_after_power_on(driver: Path) -> None:
    wanted = {0x00: "08", 0x01: "3F", 0x02: "03", 0x03: "03", 0x05: "02", 0x07: "0E", 0x17: "11"}
    for number, value in wanted.items():
        assert answers(driver, f"t 1000 s x {number:02X} x FF r") == ["0E", value, "-1"]
    assert answers(driver, "t 1000 s x 0A x FF x FF r")[1:3] == ["E7", "E7"]
    assert answers(driver, "t 1000 s x 0F x FF r")[1] == "C6"


def test_is_not_there_before_its_power_on_reset_is_over(driver: Path) -> None:
    assert answers(driver, "t 99 s x 25 x 28 r t 1000 s x 05 x FF r") == [
        *("FF", "FF", "-1"),
        *("0E", "02", "-1"),
    ]


def test_hands_out_frames_in_order_with_their_pipe(driver: Path) -> None:
    lines = LISTENS + "f 7 1 f 8 2 l s x FF r s x 61 x 0 x 0 r s x 61 x 0 r s x FF r"
    assert answers(driver, lines, after=SETTING_ANSWERS) == [
        *("0", "0", "0"),
        *("42", "-1"),
        *("42", "07", "02", "7"),
        *("44", "08", "8"),
        *("4E", "-1"),
    ]


def test_what_is_written_as_one_is_cleared_and_the_line_goes_up(driver: Path) -> None:
    lines = LISTENS + "f 7 1 s x 27 x 00 r l s x 27 x 40 r l s x 07 x FF r f 8 1 l"
    assert answers(driver, lines, after=SETTING_ANSWERS) == [
        *("0", "42", "00", "-1", "0"),
        *("42", "00", "-1", "1"),
        *("02", "02", "-1"),
        *("0", "0"),
    ]


def test_line_stays_up_where_it_is_masked(driver: Path) -> None:
    assert answers(driver, LISTENS + "s x 20 x 4F r f 7 1 l")[-2:] == ["0", "1"]


def test_a_fourth_frame_finds_it_full_and_a_flush_empties_it(driver: Path) -> None:
    lines = LISTENS + "f 1 1 f 2 1 f 3 1 f 4 1 s x 17 x FF r s x E2 r s x FF r"
    assert answers(driver, lines, after=SETTING_ANSWERS) == [
        *("0", "0", "0", "8"),
        *("42", "12", "-1"),
        *("42", "-1"),
        *("4E", "-1"),
    ]


@pytest.mark.parametrize(
    ("change", "why"),
    [
        ("", "0"),
        ("e 0 ", "1"),
        ("s x 20 x 0E r ", "1"),
        ("e 0 t 2000 e 1 t 2009 ", "2"),
        ("s x 25 x 29 r ", "3"),
        ("s x 26 x 00 r ", "4"),
        ("s x 20 x 0B r ", "5"),
        ("s x 21 x 00 r s x 20 x 07 r ", "5"),
        ("s x 22 x 04 r ", "6"),
        ("s x 2B x 07 r ", "6"),
        ("s x 23 x 02 r ", "6"),
        ("s x 32 x 05 r ", "7"),
    ],
)
def test_why_a_frame_does_not_get_in(driver: Path, change: str, why: str) -> None:
    assert answers(driver, f"{LISTENS}{change}f 7 1")[-1] == why


def test_a_pipe_above_1_takes_the_upper_bytes_of_pipe_1(driver: Path) -> None:
    assert answers(driver, LISTENS + "f 7 2")[-1] == "0"
    assert answers(driver, LISTENS + "s x 2B x 01 x 03 r f 7 2")[-1] == "6"
