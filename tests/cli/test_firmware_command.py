"""`radiosim firmware` as a user types it."""

import json
import re
from pathlib import Path
from xml.etree import ElementTree as Xml

import pytest

from radiosim.firmware.settings_header import stamp_of
from tests.cli.typed import typed
from tests.firmware.programs import EXAMPLES, needs_compiler
from tests.study.tune.scenarios import shipped

pytestmark = needs_compiler

FAULT = "fault=[{at_s=4.0, kind='power_off', unit='drive', for_s=2.0}]"
OWN = ("--set", "failsafe.drive.fed_by=own", "--set", FAULT)
SHORT = ("--starts", "1", "--duration-s", "7", *OWN)
CAR = EXAMPLES / "car.c"


def test_a_program_that_holds_is_told_so_and_what_cannot_be_seen() -> None:
    done = typed("firmware", "shared-timer", CAR, *SHORT)

    assert done.code == 0
    assert re.search(r"\A.*: car\.c on host, settings [0-9A-F]{8}: 1 start, 7 s\n", done.out)
    assert "\nHELD: reads and outputs are those that were predicted.\n" in done.out
    assert re.search(r"\n(\d+) of \1 at the predicted pass\.\n", done.out)
    assert "\nWhat this cannot see\n" in done.out


def test_a_program_that_does_not_is_told_where_and_by_how_much(tmp_path: Path) -> None:
    source = tmp_path / "car.c"
    text = CAR.read_text(encoding="utf-8")
    shared = text.replace("stream->fed_ms = rx_ms();", "drive.fed_ms = head.fed_ms = rx_ms();")
    assert shared != text
    source.write_text(shared, encoding="utf-8")
    junit = tmp_path / "out.xml"

    done = typed("firmware", "shared-timer", source, *SHORT, "--junit", junit, "--json", "-")

    assert done.code == 1
    found = json.loads(done.out)
    assert found["verdict"] == "NOT HELD"
    motor = next(span for span in found["spans"] if span["output"] == "motor")
    assert (motor["predicted"], motor["real"]) == (1500.0, 2000.0)
    assert motor["fault"] == "power_off drive"
    assert 4.2 < motor["at_s"] < 4.3
    failed = {case.get("name") for case in Xml.parse(junit).iter("testcase") if len(case) > 0}
    assert "motor" in failed
    assert "pan" not in failed


def test_a_program_that_crashes_is_told_in_the_verdict(tmp_path: Path) -> None:
    source = tmp_path / "car.c"
    text = CAR.read_text(encoding="utf-8")
    crashing = "if (hand.count == 9) *(volatile int *)8 = 1;\n    take_all();\n    if (runs"
    source.write_text(text.replace("take_all();\n    if (runs", crashing), encoding="utf-8")

    done = typed("firmware", "shared-timer", source, *SHORT)

    assert done.code == 1
    verdict = " ".join(done.out.split())
    assert "NOT HELD: it crashed (segmentation fault) in rx_pass (car.c:" in verdict
    assert "no start came to its end" in verdict


def test_what_c_leaves_undefined_is_found_where_it_is_asked_for(tmp_path: Path) -> None:
    source = tmp_path / "car.c"
    text = CAR.read_text(encoding="utf-8")
    counting = "static int n = 2147483600; n++;\n    take_all();\n    if (runs"
    source.write_text(text.replace("take_all();\n    if (runs", counting), encoding="utf-8")

    done = typed("firmware", "shared-timer", source, *SHORT, "--traps")

    assert done.code == 1
    assert "it did what C leaves undefined" in " ".join(done.out.split())
    assert "in rx_pass (car.c:" in " ".join(done.out.split())


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("shared-timer", CAR, "--on", "core", "--traps"), "--traps: is for host"),
        (("shared-timer", "rx.c"), "rx.c: there is no such file"),
        (("shared-timer",), "SOURCE: must be the program's files, or --emit FOLDER be given"),
        (("shared-timer", CAR, "--on", "board"), "--on: must be one of host, core, chip"),
        (("harbour-tug", CAR), "output.engine.value: rx_level takes whole numbers, so -1 to 1"),
        (
            ("late-goggles", CAR, "--set", "failsafe.drive.fed_at=arrival"),
            "failsafe.drive.fed_at: only a program that reads by interrupt knows whose frame",
        ),
        (("culvert-crawler", CAR), "car.c does not compile: "),
    ],
)
def test_what_cannot_be_run_is_refused_in_one_line(
    words: tuple[str | Path, ...], said: str
) -> None:
    done = typed("firmware", *words, "--starts", "1")

    assert done.code == 2
    assert done.out == ""
    assert said in done.err
    assert len(done.err.splitlines()) == 1


def test_headers_are_written_with_one_stamp(tmp_path: Path) -> None:
    done = typed("firmware", "shared-timer", "--emit", tmp_path / "new", *OWN)

    assert done.code == 0
    assert {path.name for path in (tmp_path / "new").iterdir()} >= {
        "link.h",
        "receiver.h",
        "loop_style.h",
    }
    stamp = stamp_of(shipped("shared-timer", "failsafe.drive.fed_by=own"))
    assert f"#define LINK_STAMP 0x{stamp}UL" in (tmp_path / "new" / "link.h").read_text()
    assert stamp in done.err


def test_headers_beside_the_program_that_are_of_other_settings_are_refused(tmp_path: Path) -> None:
    typed("firmware", "shared-timer", "--emit", tmp_path, "--set", "failsafe.drive.timeout_ms=300")
    source = tmp_path / "car.c"
    source.write_text(CAR.read_text(encoding="utf-8"), encoding="utf-8")

    done = typed("firmware", "shared-timer", source, *SHORT)

    assert done.code == 2
    assert "rx_stamp: the program was built with the settings" in done.err


def test_a_program_that_is_written_holds_and_is_left_as_it_is(tmp_path: Path) -> None:
    words = ("firmware", "late-goggles", tmp_path / "rx.c", "--emit", tmp_path)
    done = typed(*words, "--starts", "1", "--duration-s", "3")
    (tmp_path / "rx.c").write_text("int x = ;", encoding="utf-8")
    again = typed(*words)

    assert done.code == 0, done.err
    assert "rx.c: left as it is" in again.err
    assert again.code == 2
    assert (tmp_path / "rx.c").read_text(encoding="utf-8") == "int x = ;"


@pytest.mark.slow
def test_drills_find_what_the_scenarios_own_faults_do_not(tmp_path: Path) -> None:
    source = tmp_path / "car.c"
    text = CAR.read_text(encoding="utf-8")
    late = text.replace("<= MS(timeout_us)", "<= MS(timeout_us) + 40")
    assert late != text
    source.write_text(late, encoding="utf-8")
    words = ("--set", "failsafe.drive.fed_by=own", "--set", "fault=[]", "--repeats", "4")
    short = ("--starts", "1", "--duration-s", "3", "--json", "-", "--drill")

    done = typed("firmware", "shared-timer", source, *words, *short)

    assert done.code == 1
    found = json.loads(done.out)
    assert found["spans"] == []
    drills = {f"{one['fault']} {one['unit']}": one for one in found["drills"]}
    assert drills["power_off drive"]["verdict"] == "NOT HELD"
    assert 0.03 < drills["power_off drive"]["span"]["for_s"] < 0.05
    assert drills["stale drive"]["verdict"] == "HELD"
    # As predicted, and no more: nothing stops the motor then.
    assert "no watch_field" in drills["stale drive"]["unstopped"]["motor"]
    assert drills["power_off drive"]["unstopped"] == {}
