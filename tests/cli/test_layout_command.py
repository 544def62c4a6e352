"""`radiosim layout` as a user types it."""

import json
import xml.etree.ElementTree as ET
from pathlib import Path
from typing import Any

import pytest

from tests.cli.typed import Typed, typed

pytest.importorskip("clang.cindex", reason="headers need libclang, the extra `c`")

FRAMES = Path(__file__).parent / "headers" / "frames.h"
SCENARIO = """
starts = 2
duration_s = 1
radio.profile = "gfsk-1M"
[layout.drive]
header = "frames.h"
struct = "Old"
abi = "avr"
convert.throttle = { scale = 0.001, min = -1, max = 1 }
[transmitter.drive]
layout = "drive"
period_ms = 20
signals.count = { kind = "counter" }
[failsafe.drive]
timeout_ms = 250
[output.motor]
stream = "drive"
field = "throttle"
"""


def of(struct: str) -> str:
    return f"{FRAMES}:{struct}"


def compared(old: str, new: str, *options: str) -> tuple[int, dict[str, Any]]:
    done = typed("layout", "compare", old, new, "--json", "-", *options)
    assert done.err == ""
    document = json.loads(done.out)
    return done.code, {way: document[way] for way in ("new_to_old", "old_to_new")}


def verdicts(direction: dict[str, Any]) -> list[str]:
    return [direction[length]["verdict"] for length in ("own", "fixed", "padded")]


def scenario_with(folder: Path, text: str = SCENARIO) -> Path:
    (folder / "frames.h").write_bytes(FRAMES.read_bytes())
    path = folder / "mine.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_seven_bytes_that_are_eight_on_another_chip_are_found_and_rejected_or_misread() -> None:
    checked = typed("layout", "check", of("Loose"))
    code, directions = compared(of("Loose@avr"), of("Loose@arm"))

    assert checked.code == 1
    assert "not the same for every compiler (bytes: avr 7, arm 8" in checked.out
    assert "before throttle there is no gap on avr, a gap of 1" in checked.out
    assert code == 1
    assert verdicts(directions["new_to_old"]) == ["misread", "rejected", "misread"]
    assert verdicts(directions["old_to_new"]) == ["misread", "rejected", "misread"]


def test_a_swapped_pair_reads_as_the_other_in_the_output_s_terms() -> None:
    code, directions = compared(of("Old"), of("Swapped"))

    assert code == 1
    for direction in directions.values():
        assert verdicts(direction) == ["misread"] * 3
        wrong = {f["field"]: f for f in direction["own"]["fields"] if f["verdict"] == "misread"}
        assert set(wrong) == {"throttle", "steer"}
        assert wrong["throttle"]["worst"]["effect"] == "throttle at full reverse reads as full"
        assert wrong["throttle"]["says"] == "reads steer"


def test_a_widened_field_shifts_all_after_it() -> None:
    code, directions = compared(of("Old"), of("Widened"))

    assert code == 1
    assert verdicts(directions["new_to_old"]) == ["misread", "rejected", "misread"]
    names = [
        f["field"] for f in directions["old_to_new"]["own"]["fields"] if f["verdict"] == "misread"
    ]
    assert names[:2] == ["throttle", "steer"]


def test_an_added_version_byte_stops_all_but_some_old_frames() -> None:
    code, directions = compared(of("Old"), of("Versioned"))

    assert code == 1
    assert verdicts(directions["old_to_new"]) == ["misread", "rejected", "misread"]
    assert directions["old_to_new"]["own"]["passes_version"] == 1 / 256
    assert verdicts(directions["new_to_old"]) == ["misread", "rejected", "misread"]


def test_versions_on_both_sides_refuse_each_other(tmp_path: Path) -> None:
    header = tmp_path / "v.h"
    header.write_text(
        "struct A { unsigned char version, x, y; };\nstruct B { unsigned char version, y, x; };",
        encoding="ascii",
    )

    _, directions = compared(f"{header}:A", f"{header}:B", "--versions", "3,4")

    assert verdicts(directions["old_to_new"]) == ["refused"] * 3
    assert directions["old_to_new"]["own"]["why"] == "version is never 4"


def test_a_payload_past_32_bytes_is_never_sent() -> None:
    code, directions = compared(of("Old"), of("Grown"))
    checked = typed("layout", "check", of("Grown"), "--json", "-")

    assert code == 1
    assert verdicts(directions["new_to_old"]) == ["rejected"] * 3
    assert directions["new_to_old"]["own"]["why"].startswith(
        "its 36 bytes do not fit a payload of 32"
    )
    assert checked.code == 1
    found = json.loads(checked.out)
    assert found["is_ok"] is found["layouts"][0]["is_ok"] is False
    assert found["layouts"][0]["traps"][0]["trap"] == "too long"


def test_a_layout_is_compatible_with_itself_and_that_is_success() -> None:
    code, directions = compared(of("Old"), of("Old"))

    assert code == 0
    assert all(verdicts(direction) == ["compatible"] * 3 for direction in directions.values())


def test_a_scale_in_a_comment_is_asked_about_until_it_is_said_to_be_the_same(
    tmp_path: Path,
) -> None:
    old, new = tmp_path / "old.h", tmp_path / "new.h"
    old.write_text("struct F { short pull; // 1/1000\n};", encoding="ascii")
    new.write_text("struct F { short pull; // 1/500\n};", encoding="ascii")
    both = (f"{old}:F", f"{new}:F")
    asked = typed("layout", "compare", *both)
    known = typed("layout", "compare", *both, "--same", "pull")
    wrong = typed("layout", "compare", *both, "--same", "push")

    assert (asked.code, known.code, wrong.code) == (1, 0, 2)
    assert asked.out.startswith("F: flash transmitter and receiver together, unless")
    assert "--same pull" in asked.out
    assert known.out.startswith("F: compatible")
    assert "must be what is asked about (pull), got push" in wrong.err


@pytest.mark.parametrize(
    ("said", "name"),
    [
        ("struct F { short pull; // 1/500\n};", "pull"),
        ("// in 1/500\n#pragma once\nstruct F { short pull; };", "F"),
        ("// in 1/500\nstruct F {\nshort pull; };", "F"),
    ],
)
def test_a_header_against_a_scenario_is_asked_about_its_scales(
    said: str, name: str, tmp_path: Path
) -> None:
    header, scenario = tmp_path / "f.h", tmp_path / "f.toml"
    header.write_text(said, encoding="ascii")
    scenario.write_text(
        'radio.profile = "gfsk-1M"\ntransmitter.drive = { layout = "f", period_ms = 20 }\n'
        'layout.f.fields = [{ name = "pull", type = "i16", scale = 0.001, min = -1, max = 1 }]\n',
        encoding="ascii",
    )
    both = (f"{scenario}:f", f"{header}:F")
    asked, known = (typed("layout", "compare", *both, *same) for same in ((), ("--same", name)))

    assert (asked.code, known.code) == (1, 0)
    assert "1/500" in " ".join(asked.out.split())
    assert f"--same {name}" in " ".join(asked.out.split())
    assert "only who wrote both knows" in " ".join(known.out.split())


def test_a_scenario_that_reads_a_header_has_what_the_header_says(tmp_path: Path) -> None:
    path = scenario_with(tmp_path)
    new = tmp_path / "new.h"
    text = FRAMES.read_text("ascii")
    new.write_text(f"// all in 1/500\n#define FULL 500\n{text}", encoding="ascii")
    same = typed("layout", "compare", f"{path}:drive", f"{tmp_path / 'frames.h'}:Old")
    asked = typed("layout", "compare", f"{path}:drive", f"{new}:Old")

    assert (same.code, asked.code) == (0, 1)
    assert "1/500" in " ".join(asked.out.split())
    assert 'FULL was nothing and is "500"' in " ".join(asked.out.split())


def test_the_exit_code_is_for_the_length_that_is_asked_about() -> None:
    lone = typed("layout", "compare", of("Old"), of("Old"), "--payload-length", "fixed")
    padded = typed("layout", "compare", of("Old"), of("Old"), "--payload-length", "8")
    short = typed("layout", "compare", of("Old"), of("Old"), "--payload-length", "7")
    bad = typed("layout", "compare", of("Old"), of("Old"), "--payload-length", "33")
    long = typed("layout", "compare", of("Old"), of("Old"), "--payload-length", "9" * 5000)

    assert (lone.code, padded.code, short.code) == (0, 0, 1)
    assert bad.code == 2
    assert bad.err == "--payload-length: must be own, fixed, or 1 to 32 bytes, got '33'\n"
    assert long.err.startswith("--payload-length: must be own, fixed, or 1 to 32 bytes, got '99")


def test_show_draws_the_bytes_and_says_what_a_servo_sees() -> None:
    done = typed("layout", "show", of("Old"))

    assert done.code == 0
    assert max(map(len, done.out.splitlines())) <= 80
    assert done.out.startswith("Old: 8 bytes, for every compiler\n\nnot read: radio.h\n")
    assert "byte 5: bits 0-1 mode, bit 2 lamp, bits 3-7 nothing" in done.out
    (row,) = (
        line for line in done.out.splitlines() if line.startswith("trim_0") and "7.84" in line
    )
    assert row.split() == ["trim_0", "-", "7.84", "0.706", "5", "follows"]


def test_show_in_a_scenario_uses_its_servos_and_units(tmp_path: Path) -> None:
    done = typed("layout", "show", scenario_with(tmp_path), "--json", "-")

    shown = json.loads(done.out)
    throttle = next(f for f in shown["fields"] if f["name"] == "throttle")
    assert shown["size_bytes"] == 8
    assert throttle["resolution"] == 0.001
    assert throttle["servos"] == [
        {
            "output": "motor",
            "step_us": 0.5,
            "step_deg": 0.045,
            "dead_band_us": 5.0,
            "is_felt": False,
        }
    ]


def test_the_picture_is_sound_and_names_every_field(tmp_path: Path) -> None:
    target = tmp_path / "map.svg"
    typed("layout", "show", of("Old"), "--svg", target)

    root = ET.parse(target).getroot()
    titles = {node.text for node in root.iter("{http://www.w3.org/2000/svg}title")}
    assert {"count", "throttle", "steer", "mode", "lamp", "trim_0", "trim_1"} <= titles


def test_check_of_a_sound_scenario_succeeds(tmp_path: Path) -> None:
    done = typed("layout", "check", scenario_with(tmp_path))

    assert done.code == 0
    assert "no counter" not in done.out


def test_compare_with_a_scenario_tells_the_pulses_that_go_wrong(tmp_path: Path) -> None:
    done = typed("layout", "compare", f"{scenario_with(tmp_path)}:drive", of("Swapped"))

    assert done.code == 1
    assert "motor: 2000 us instead of 1000" in " ".join(done.out.split())


def test_emit_writes_c_json_and_vectors(tmp_path: Path) -> None:
    target = tmp_path / "old.h"
    header = typed("layout", "emit", of("Old"), "--to", "c", "--out", target)
    vectors = json.loads(typed("layout", "emit", of("Old"), "--to", "vectors").out)
    shown = json.loads(typed("layout", "emit", of("Old"), "--to", "json").out)
    bad = typed("layout", "emit", of("Old"), "--to", "rust")

    assert header.err == f"wrote {target}\n"
    assert "Old_pack(const Old_t *from, uint8_t to[OLD_BYTES])" in target.read_text("ascii")
    lowest = next(one for one in vectors["vectors"] if one["name"] == "throttle lowest")
    assert lowest["bytes"] == "00 00 80 00 00 00 00 00"
    assert shown["fields"][1]["offset_bits"] == 8
    assert (bad.code, bad.err) == (2, "--to: must be c, json or vectors, got 'rust'\n")


def refused(*arguments: str | Path) -> str:
    done: Typed = typed("layout", *arguments)
    assert (done.code, done.out) == (2, "")
    return done.err


def test_what_cannot_be_read_is_refused_in_one_block(tmp_path: Path) -> None:
    mine = scenario_with(tmp_path)

    assert "must say whose compiler, as " in refused("show", of("Loose"))
    assert "frames.h:62: name: must be a number, got a pointer" in refused("show", of("Pointing"))
    assert "must have a struct Nope, got Old, Loose" in refused("check", of("Nope"))
    assert "must be a layout's name" not in refused("show", f"{mine}:other")
    assert "(drive), got 'other'" in refused("show", f"{mine}:other")
    assert "must end in @ and one of avr, arm" in refused("show", of("Old@z80"))
    assert "got no struct" in refused("show", FRAMES)
    assert "which is none" in refused("show", f"{tmp_path / 'none.h'}:A")
    assert "must be two whole numbers" in refused(
        "compare", of("Old"), of("Old"), "--versions", "1"
    )


def test_a_scenario_with_a_header_runs(tmp_path: Path) -> None:
    done = typed("run", scenario_with(tmp_path), "--engine", "reference", "--starts", "1")

    assert done.code == 0, done.err
    assert "motor" in done.out


LINK = """
starts = 3
duration_s = 2
radio.profile = "gfsk-1M"
[layout.drive]
fields = [{ name = "throttle", type = "i8", scale = 0.01, min = -1.0, max = 1.0 }]
[layout.wider]
fields = [{ name = "throttle", type = "i32", scale = 0.01, min = -1.0, max = 1.0 }]
[layout.huge]
fields = [
  { name = "throttle", type = "i8", scale = 0.01, min = -1.0, max = 1.0 },
  { name = "a", type = "f64" },
  { name = "b", type = "f64" },
  { name = "c", type = "f64" },
  { name = "d", type = "f64" },
]
[transmitter.drive]
layout = "drive"
period_ms = 20
[transmitter.head]
payload_bytes = 4
period_ms = 20
"""
ALONE = LINK.partition("[layout.huge]")[0] + "[transmitter" + LINK.partition("[transmitter")[2]


def link(folder: Path) -> Path:
    path = folder / "link.toml"
    path.write_text(ALONE, encoding="utf-8")
    (folder / "huge.toml").write_text(LINK, encoding="utf-8")
    return path


@pytest.mark.slow
def test_a_change_is_carried_into_a_link(tmp_path: Path) -> None:
    path = link(tmp_path)
    typed_in = ("layout", "compare", f"{path}:drive", f"{path}:wider", "--scenario", str(path))
    shown, told = typed(*typed_in), typed(*typed_in, "--json", "-", "--csv", str(tmp_path / "csv"))

    assert "drive  a frame is on the air for 105 us, was 81" in shown.out
    assert max(map(len, shown.out.splitlines())) <= 80
    document = json.loads(told.out)
    change = document["link"]["figures"]["stream.drive.duty_cycle"]
    assert change["difference_ci95"][0] > 0
    assert change["new"] - change["old"] == pytest.approx(change["difference"])
    rows = (tmp_path / "csv" / "change.csv").read_text(encoding="utf-8").splitlines()
    assert rows[0].startswith("figure,old,new,difference")
    assert len(rows) == 1 + len(document["link"]["figures"])


def test_a_payload_past_32_bytes_is_rejected_and_says_why_it_is_not_simulated(
    tmp_path: Path,
) -> None:
    path = link(tmp_path)
    huge = f"{tmp_path / 'huge.toml'}:huge"
    done = typed("layout", "compare", f"{path}:drive", huge, "--scenario", str(path))

    assert done.code == 1
    assert "rejected" in done.out
    assert "Not simulated with the new layout" in done.out
    assert "must be at most 32 bytes in all, got 33" in " ".join(done.out.split())


def test_a_scenario_without_the_layout_asks_whose_frames_change(tmp_path: Path) -> None:
    path = link(tmp_path)
    pair = (f"{path}:wider", f"{path}:drive")
    done = typed("layout", "compare", *pair, "--scenario", str(path))
    other = typed("layout", "compare", *pair, "--scenario", str(path), "--stream", "head")
    unknown = typed("layout", "compare", *pair, "--scenario", str(path), "--stream", "lok")

    assert done.code == unknown.code == other.code == 2
    assert "--stream (drive, head)" in done.err
    assert "must be one of drive, head, got 'lok'" in unknown.err
    # What the stream's own output takes is not in OLD: that link never was.
    assert "output.head.field: must be a field of transmitter.head" in other.err


def test_every_table_of_a_layout_is_csv_too(tmp_path: Path) -> None:
    path = link(tmp_path)
    assert typed("layout", "show", f"{path}:drive", "--csv", str(tmp_path / "show")).code == 0
    typed("layout", "check", f"{path}:drive", "--csv", str(tmp_path / "check"))

    fields = (tmp_path / "show" / "fields.csv").read_text(encoding="utf-8")
    assert fields.splitlines()[1].startswith("throttle,i8,0,8")
    traps = (tmp_path / "check" / "traps.csv").read_text(encoding="utf-8")
    assert traps.startswith("layout,field,trap,severity,what,cure")


@pytest.mark.parametrize("option", ["--json", "--page"])
def test_the_header_that_is_read_is_never_written(tmp_path: Path, option: str) -> None:
    header = tmp_path / "old.h"
    header.write_text("struct S { unsigned char a; };", encoding="utf-8")
    named = f"{header}:S@avr"
    done = typed("layout", "compare", named, named, option, str(header))

    assert (done.code, f"{option}: must not be the header itself" in done.err) == (2, True)
    assert header.read_text(encoding="utf-8") == "struct S { unsigned char a; };"


def test_a_narrowed_field_is_said_to_be_at_the_end_of_its_own_range(tmp_path: Path) -> None:
    old, new = tmp_path / "old.h", tmp_path / "new.h"
    old.write_text("struct F { short throttle, rudder; };", encoding="ascii")
    new.write_text("struct F { signed char throttle; short rudder; };", encoding="ascii")
    done = typed("layout", "compare", f"{old}:F", f"{new}:F@avr")

    assert "throttle at full reverse reads as full" in " ".join(done.out.split())
