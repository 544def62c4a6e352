"""`radiosim tune` as a user types it."""

import json
import os
import shutil
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from tests.cli.typed import tiny, typed

ROOT = Path(__file__).parents[2]
SECOND = "transmitter.head = { period_ms = 23, payload_bytes = 4, retry_delay_us = 1750 }\n"
VARY = (
    *("--vary", "transmitter.drive.period_ms=10:40:10"),
    *("--vary", "transmitter.head.period_ms=13,23,37"),
)


def test_a_recommendation_comes_first_with_its_reason(tmp_path: Path) -> None:
    done = typed("tune", tiny(tmp_path, SECOND), *VARY, "--workers", 1)

    assert done.code == 0, done.out
    assert "--set transmitter.drive.period_ms=" in done.out
    assert "furthest from the limits" in " ".join(done.out.split())
    assert "Required, because the scenario asks for nothing" in done.out
    assert max(map(len, done.out.splitlines())) <= 80


def test_the_cost_stands_beside_the_recommendation_and_the_scenario_as_it_stands(
    tmp_path: Path,
) -> None:
    done = typed("tune", tiny(tmp_path, SECOND), *VARY, "--workers", 1)

    said = " ".join(done.out.split("\n\nNext best", maxsplit=1)[0].split())
    assert (
        said.count(
            "Age of the values in use, of the stream with the oldest in its worst start: mean "
        )
        == 2
    )
    assert said.count(" mAh/h.") == 2
    assert said.count(" %, charge ") == 2


@pytest.mark.slow
def test_a_warning_that_the_recommended_settings_bring_is_told(tmp_path: Path) -> None:
    many = ("--vary", "transmitter.head.period_ms=8", "--set", "transmitter.head.retry_limit=15")
    held = "requirement = [{ figure = 'stream.head.gap_ms.p99', at_most = 20 }]\n"
    path, page = tiny(tmp_path, held + SECOND), tmp_path / "page.html"
    done = typed("tune", path, *many, "--workers", 1, "--page", page)
    told = json.loads(typed("tune", path, *many, "--workers", 1, "--json", "-").out)

    said = "8 is shorter than a frame with all its retries takes"
    assert told["recommended"]["values"] == [8]
    assert said in " ".join(done.out.split("As it stands", maxsplit=1)[0].split())
    assert said in told["recommended"]["warnings"][0]
    assert said in page.read_text(encoding="utf-8")
    assert max(map(len, done.out.splitlines())) <= 80


@pytest.mark.slow
def test_a_tuning_is_json_and_csv_too_and_the_same_with_more_workers(tmp_path: Path) -> None:
    path, folder = tiny(tmp_path, SECOND), tmp_path / "csv"
    one = typed("tune", path, *VARY, "--workers", 1, "--json", "-", "--csv", folder)
    two = typed("tune", path, *VARY, "--workers", 2, "--json", "-")

    assert one.out == two.out
    told = json.loads(one.out)
    assert [setting["key"] for setting in told["settings"]] == [
        "transmitter.drive.period_ms",
        "transmitter.head.period_ms",
    ]
    assert len(told["points"]) == 12
    assert told["recommended"]["values"] in [point["values"] for point in told["points"]]
    rows = (folder / "points.csv").read_text(encoding="utf-8").splitlines()
    # The names, the scenario as it stands, and every point.
    assert len(rows) == 14
    assert rows[1].startswith("as it stands,20.0,23.0,")


def test_what_is_recommended_is_tried_over_the_whole_scenario(tmp_path: Path) -> None:
    path = tiny(tmp_path, SECOND)
    done = typed("tune", path, *VARY, "--workers", 1, "--json", "-")
    told = json.loads(done.out)
    (tried,) = told["confirmed"]

    assert tried["values"] == told["recommended"]["values"]
    assert tried["starts"] == 2
    assert tried["ok"]
    assert told["as_it_stands"]["values"] == [20, 23]
    assert not tried["is_new"]
    printed = " ".join(typed("tune", path, *VARY, "--workers", 1).out.split())
    assert "Confirmed" not in printed
    assert "the whole scenario, 2 starts of 2 s, is no more than it was chosen on" in printed


def test_points_that_were_shortened_are_confirmed_over_the_scenario_as_its_file_has_it(
    tmp_path: Path,
) -> None:
    short = ("--starts", 1, "--duration-s", 1, "--workers", 1)
    path = tiny(tmp_path, SECOND)
    told = json.loads(typed("tune", path, *VARY, *short, "--json", "-").out)
    (tried,) = told["confirmed"]

    assert (told["starts"], told["duration_s"]) == (1, 1)
    assert (tried["starts"], tried["duration_s"], tried["is_new"]) == (2, 2, True)
    printed = " ".join(typed("tune", path, *VARY, *short).out.split())
    assert "12 points, each 1 start of 1 s" in printed
    assert "Confirmed: over the whole scenario, 2 starts of 2 s, every requirement holds" in printed


def test_starts_are_added_until_a_figure_is_known_well_enough(tmp_path: Path) -> None:
    path = tiny(tmp_path, SECOND)
    figure = "stream.drive.update_rate_hz"
    asked = ("--narrow", f"{figure}=5", "--starts", 20, "--workers", 1)
    done = typed("tune", path, *VARY, *asked, "--json", "-")
    told = json.loads(done.out)

    assert told["narrow"] == {"figure": figure, "half_width": 5}
    assert {point["figures"]["starts"] for point in told["points"]} == {8}
    assert typed("tune", path, "--narrow", "stream.drive.gap_ms.max=5").code == 2


def test_of_few_points_it_is_not_told_which_setting_matters(tmp_path: Path) -> None:
    asked = ("tune", tiny(tmp_path, SECOND), "--points", 4, "--workers", 1)
    page = tmp_path / "page.html"
    printed, done = typed(*asked, "--page", page), typed(*asked, "--json", "-")
    told = json.loads(done.out)

    assert "Too few points to tell: 4, where it takes 60" in printed.out
    assert "Too few points to tell" in page.read_text(encoding="utf-8")
    assert told["influence"] == {}
    assert told["influence_unknown"].startswith("too few points to tell")


def test_twin_clocks_are_found_out_from_the_command_line() -> None:
    done = typed(
        *("tune", "twin-clocks", "--vary", "transmitter.head.period_ms=20,23"),
        *("--set", "starts=4", "--workers", 1),
    )
    printed = " ".join(done.out.split())

    assert done.code == 0
    assert "--set transmitter.head.period_ms=23" in printed
    assert "Misses a requirement: stream.drive." in printed
    assert "The clocks of drive and head BEAT" in printed
    assert max(map(len, done.out.splitlines())) <= 80


def test_a_point_that_makes_no_sound_scenario_is_a_row_that_says_so(tmp_path: Path) -> None:
    vary = ("--vary", "transmitter.drive.retry_delay_us=100,500")
    told = json.loads(
        typed("tune", tiny(tmp_path), *vary, "--workers", 1, "--json", "-").out or "{}"
    )
    if told:
        assert told["points"][0]["refused"]
        assert told["recommended"]["values"] == [500.0]
    else:
        assert typed("tune", tiny(tmp_path), *vary).code == 2


@pytest.mark.slow
def test_a_study_that_was_killed_ends_in_the_same_bytes(tmp_path: Path) -> None:
    path, journal = tiny(tmp_path, SECOND), tmp_path / "journal"
    vary = (
        *("--vary", "transmitter.drive.period_ms=10:40:1"),
        *("--vary", "transmitter.head.period_ms=13:40:3"),
    )
    whole = typed("tune", path, *vary, "--workers", 1, "--json", "-").out
    program = [sys.executable, "-m", "radiosim", "tune", str(path), *vary, "--workers", "2"]
    running = subprocess.Popen(
        [*program, "--resume", str(journal), "--json", "-"],
        cwd=ROOT,
        stdout=subprocess.DEVNULL,
        start_new_session=True,
    )
    # Killed as soon as some points are on disk, workers and all.
    while running.poll() is None and not (
        journal.exists() and journal.read_bytes().count(b"\n") > 20
    ):
        os.sched_yield()
    os.killpg(running.pid, signal.SIGKILL)
    running.wait()
    kept = journal.read_bytes().count(b"\n")
    assert kept < 312, "it ended before it was killed"

    done = typed("tune", path, *vary, "--workers", 1, "--resume", journal, "--json", "-")
    assert done.out == whole


@pytest.mark.skipif(shutil.which("gcc") is None, reason="needs gcc")
def test_the_settings_are_a_header_that_compiles_and_says_what_was_chosen(tmp_path: Path) -> None:
    header = tmp_path / "settings.h"
    done = typed(
        "tune", tiny(tmp_path, SECOND), *VARY, "--workers", 1, "--emit", header, "--json", "-"
    )
    chosen = json.loads(done.out)["recommended"]["values"]
    program = tmp_path / "main.c"
    program.write_text(
        '#include "settings.h"\n#include <stdio.h>\n'
        "static const uint8_t address[] = LINK_HEAD_ADDRESS;\n"
        "int main(void) {\n"
        '  printf("%lu %lu %d %lu %d", LINK_DRIVE_PERIOD_US, LINK_HEAD_PERIOD_US,\n'
        "    LINK_HEAD_RETRY_STEP, LINK_DRIVE_FAILSAFE_TIMEOUT_US, (int)sizeof address);\n"
        "  return LINK_STAMP == 0;\n}\n",
        encoding="utf-8",
    )
    binary = tmp_path / "main"
    subprocess.run(
        ["gcc", "-std=c11", "-Wall", "-Wextra", "-Werror", str(program), "-o", str(binary)],
        check=True,
    )
    said = subprocess.run([str(binary)], check=True, capture_output=True, text=True).stdout

    drive, head = (round(1000 * value) for value in chosen)
    assert said == f"{drive} {head} 6 250000 5"


def test_no_file_that_is_written_may_be_the_scenario_or_another_of_them(tmp_path: Path) -> None:
    scenario = Path(tiny(tmp_path, SECOND))
    text = scenario.read_text(encoding="utf-8")
    alike = tmp_path / "x"

    for options, what in (
        (("--emit", scenario), "--emit: must not be the scenario itself"),
        (("--json", scenario), "--json: must not be the scenario itself"),
        (("--resume", scenario), "--resume: must not be the scenario itself"),
        (("--json", alike, "--resume", alike), "--json, --resume: must be different files"),
        (("--emit", alike, "--page", alike), "--emit, --page: must be different files"),
    ):
        done = typed("tune", str(scenario), *map(str, options))
        assert (done.code, what in done.err) == (2, True)
    assert scenario.read_text(encoding="utf-8") == text
    assert not alike.exists()


def test_a_stream_that_comes_first_must_be_one(tmp_path: Path) -> None:
    done = typed("tune", tiny(tmp_path, SECOND), *VARY, "--prefer", "arm")

    assert done.code == 2
    assert "--prefer: must be a stream, one of drive, head, got 'arm'" in " ".join(done.err.split())


def test_words_are_varied_and_stand_in_every_table(tmp_path: Path) -> None:
    folder = tmp_path / "csv"
    vary = ("--vary", "receiver.read=one,all", "--vary", "transmitter.drive.acknowledge=true,flag")
    asked = ("--workers", 1, "--csv", folder, "--json", tmp_path / "tuned.json")
    done = typed("tune", tiny(tmp_path), *vary, *asked)
    told = json.loads((tmp_path / "tuned.json").read_text(encoding="utf-8"))
    rows = (folder / "points.csv").read_text(encoding="utf-8").splitlines()

    assert done.code == 0
    assert [setting["values"] for setting in told["settings"]] == [["one", "all"], ["true", "flag"]]
    assert {tuple(point["values"]) for point in told["points"]} == {
        (read, acknowledge) for read in ("one", "all") for acknowledge in ("true", "flag")
    }
    assert sum(",one," in row for row in rows) >= 2
    assert max(map(len, done.out.splitlines())) <= 80
