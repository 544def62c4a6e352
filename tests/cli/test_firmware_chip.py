"""`radiosim firmware` with a whole firmware, as a user types it."""

import json
from collections.abc import Iterator
from pathlib import Path

import pytest

from radiosim.firmware.build import work_folder
from radiosim.firmware.emulator import compiled_for_chip, lacking
from tests.cli.typed import typed

FOLDER = Path(__file__).parents[1] / "firmware"
LINK = FOLDER / "whole.toml"
PINS = "mhz=16,select=B2,enable=B1,mark=C0,motor=D3"
SHORT = ("--starts", "1", "--duration-s", "2")
needs_chip = pytest.mark.skipif(lacking() is not None, reason=lacking() or "")


@pytest.fixture(scope="module")
def image() -> Iterator[Path]:
    with work_folder() as work:
        yield compiled_for_chip(work, [FOLDER / "whole.c"], board=())[0]


@needs_chip
@pytest.mark.slow
def test_a_firmware_is_measured_and_judged_by_its_own_times(image: Path, tmp_path: Path) -> None:
    target = tmp_path / "measured.toml"
    typed_line = ("firmware", LINK, image, "--pins", PINS, *SHORT, "--measure")

    done = typed(*typed_line, "--write", target, "--json", "-")

    found = json.loads(done.out)
    assert (found["on"], found["stamp"]) == ("chip", "")
    assert [one["name"] for one in found["outputs"]] == ["motor"]
    assert found["reads_as_predicted"] == found["frames"] > 40
    settings = dict(line.split("=") for line in found["measured"])
    assert float(settings["receiver.loop_ms"]) == pytest.approx(1.0, rel=1e-3)
    # Of its 103.8 ms the radio's power-on reset, crystal and settling take 101.63.
    assert float(settings["receiver.boot_s"]) == pytest.approx(0.002, abs=3e-4)
    # It waits for the radio after a reset too.
    assert float(settings["receiver.reset_boot_s"]) == pytest.approx(0.1038, abs=3e-4)
    # Its passes wait for the next millisecond: what it computes makes none of them longer.
    assert float(settings["receiver.unpack_us"]) == 0
    written = target.read_text(encoding="utf-8")
    assert "phase_ms" in written
    assert written.count("Caution") == 1


@needs_chip
def test_a_firmware_that_does_otherwise_is_told_where(image: Path) -> None:
    # It goes to 1000 us after 100 ms; the scenario says after 300.
    slower = ("--set", "failsafe.drive.timeout_ms=300", "--set", OFF)
    done = typed("firmware", LINK, image, "--pins", PINS, *SHORT, *slower)

    assert done.code == 1
    assert "NOT HELD: motor: 1." in done.out
    assert "(power_off drive) for" in done.out
    assert "What this cannot see\nOnly pins that were named are looked at" in done.out


@needs_chip
@pytest.mark.slow
def test_a_firmware_without_the_watchdog_that_it_should_have_fails_that_drill(image: Path) -> None:
    watched = ("--set", "receiver.watchdog_ms=128", "--set", "receiver.listens_in_boot=false")
    drills = ("--measure", "--drill", "--repeats", "4", "--json", "-")

    done = typed("firmware", LINK, image, "--pins", PINS, *SHORT, *watched, *drills)

    found = json.loads(done.out)
    verdicts = {f"{one['fault']} {one['unit']}": one["verdict"] for one in found["drills"]}
    assert verdicts.pop("hang receiver") == "NOT HELD"
    assert set(verdicts.values()) == {"HELD"}
    assert "reset receiver" in verdicts
    assert any("no watchdog reset it" in note for note in found["notes"])


OFF = "fault=[{at_s=1.5, kind='power_off', unit='drive'}]"


@pytest.mark.parametrize(
    ("line", "said"),
    [
        (("rx.elf",), "--pins: must say what is on which pin"),
        (("rx.elf", "--on", "core", "--pins", PINS), "rx.elf is a whole firmware, which runs on"),
        (("rx.elf", "other.c", "--pins", PINS), "must stand alone"),
        (("rx.c", "--on", "chip"), "needs a whole firmware (FILE.elf), got rx.c"),
        (("rx.c", "--pins", PINS), "--pins: is for a whole firmware"),
        (("rx.c", "--measure"), "--measure: is for a whole firmware"),
        (("rx.elf", "--pins", PINS, "--write", "to.toml"), "--write: must stand beside --measure"),
        (("rx.elf", "--pins", PINS, "--clock-from", "5"), "a chip's clocks begin at 0"),
        (("rx.c", "--on", "board"), "--on: must be one of host, core, chip, got board"),
    ],
)
def test_what_does_not_go_together_is_refused_in_a_line(line: tuple[str, ...], said: str) -> None:
    done = typed("firmware", LINK, *line)
    assert done.code == 2
    assert said in done.err
    assert done.err.count("\n") == 1


@needs_chip
def test_an_image_that_is_none_is_refused(tmp_path: Path) -> None:
    image = tmp_path / "rx.elf"
    image.write_text("no image")
    done = typed("firmware", LINK, image, "--pins", PINS)
    assert (done.code, done.err) == (2, f"{image}: is no image of a linker (ELF)\n")
