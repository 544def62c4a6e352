"""`radiosim failsafe` as a user types it."""

import json
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

from tests.cli.typed import tiny, typed
from tests.study.drill.scenarios import KINDS

OUTPUT = (
    'output.motor = { stream = "drive", field = "value", on_failsafe = { preset_us = 1500 } }\n'
)
QUICK = ("--repeats", "8", "--hours", "0.01", "--workers", "1")
SILENT = ("--skip", "hang", "--skip", "stale")


def test_a_scenario_whose_drills_hold_ends_with_zero(tmp_path: Path) -> None:
    done = typed("failsafe", tiny(tmp_path, OUTPUT), *QUICK, *SILENT)

    assert (done.code, done.err) == (0, "")
    assert "\nHOLDS: " in done.out
    assert "hang and stale left out" in " ".join(done.out.split())


def test_a_drill_that_fails_ends_with_one(tmp_path: Path) -> None:
    done = typed("failsafe", tiny(tmp_path, OUTPUT), *QUICK)

    assert done.code == 1
    assert "\nFAILS at 2 of 11 faults: " in done.out


def test_a_requirement_that_fails_ends_with_one(tmp_path: Path) -> None:
    asked = '[[requirement]]\nfigure = "worst.drive.reaction_ms"\nat_most = 100\n'
    done = typed("failsafe", tiny(tmp_path, OUTPUT + asked), *QUICK, *SILENT)

    assert done.code == 1


def test_run_points_to_the_drill(tmp_path: Path) -> None:
    asked = '[[requirement]]\nfigure = "worst.drive.reaction_ms"\nat_most = 300\n'
    done = typed("run", tiny(tmp_path, OUTPUT + asked))

    assert done.code == 1
    assert "radiosim failsafe judges stopping times" in " ".join(done.out.split())


def test_json_on_standard_output_stands_alone(tmp_path: Path) -> None:
    done = typed("failsafe", tiny(tmp_path, OUTPUT), *QUICK, *SILENT, "--json", "-")

    assert json.loads(done.out)["ok"] is True


def test_files_are_written_where_they_were_asked_for(tmp_path: Path) -> None:
    files = ("--json", tmp_path / "d.json", "--junit", tmp_path / "d.xml", "--csv", tmp_path / "d")
    typed("failsafe", tiny(tmp_path, OUTPUT), *QUICK, *SILENT, *files)

    assert json.loads((tmp_path / "d.json").read_text(encoding="utf-8"))["scenario"] == "tiny"
    assert ET.parse(tmp_path / "d.xml").getroot().tag == "testsuites"
    assert (tmp_path / "d" / "trade_off.csv").is_file()


def test_the_same_seed_gives_the_same_bytes(tmp_path: Path) -> None:
    command = ("failsafe", tiny(tmp_path, OUTPUT), *QUICK, "--json", "-")

    assert typed(*command).out == typed(*command).out


@pytest.mark.parametrize(
    ("options", "text"),
    [
        (("--skip", "hangs"), "--skip: must be one of power_off, reset, brownout"),
        (("--reaction-ms", "0"), "--reaction-ms: must be a number >= 0.001 and <= 3600000, got 0"),
        (("--speed-m-s", "nan"), "--speed-m-s: must be a number >= 0.001 and <= 1000, got nan"),
        (("--hours", "inf"), "--hours: must be a number >= 0.001 and <= 100000, got inf"),
        (
            ("--nuisance-per-hour", "-1"),
            "--nuisance-per-hour: must be a number >= 1e-06 and <= 1000000, got -1",
        ),
        (("--engine", "swift"), "--engine: must be one of auto, reference, fast, got swift"),
    ],
)
def test_options_that_make_no_sense_are_refused(
    tmp_path: Path, options: tuple[str, ...], text: str
) -> None:
    done = typed("failsafe", tiny(tmp_path, OUTPUT), *options)

    assert (done.code, done.out) == (2, "")
    assert text in done.err


def test_a_drill_of_nothing_is_refused(tmp_path: Path) -> None:
    done = typed("failsafe", tiny(tmp_path), *(o for kind in KINDS for o in ("--skip", kind)))

    assert done.code == 2
    assert "must leave a kind of fault to drill" in done.err


def test_a_target_that_cannot_be_written_is_refused_before_anything_runs(tmp_path: Path) -> None:
    done = typed("failsafe", tiny(tmp_path), "--junit", tmp_path / "none" / "d.xml")

    assert done.code == 2
    assert "must be in a folder that exists" in done.err


def test_junit_may_not_replace_the_scenario(tmp_path: Path) -> None:
    scenario = tiny(tmp_path)
    before = scenario.read_text(encoding="utf-8")
    done = typed("failsafe", scenario, "--junit", scenario)

    assert done.code == 2
    assert "--junit: must not be the scenario itself" in done.err
    assert scenario.read_text(encoding="utf-8") == before


def test_a_journal_may_not_be_another_file_that_is_written(tmp_path: Path) -> None:
    journal = tmp_path / "j"
    journal.write_text("kept", encoding="utf-8")
    done = typed("failsafe", tiny(tmp_path), "--resume", journal, "--json", journal)

    assert done.code == 2
    assert "--json, --resume: must be different files" in done.err
    assert journal.read_text(encoding="utf-8") == "kept"


def test_a_saved_trace_is_no_scenario_to_drill(tmp_path: Path) -> None:
    trace = tmp_path / "t.trace"
    typed("run", tiny(tmp_path), "--starts", "1", "--trace", trace)
    done = typed("failsafe", trace)

    assert done.code == 2
    assert "must be a scenario file, got a saved trace" in done.err


def test_more_hours_than_a_run_may_have_are_refused(tmp_path: Path) -> None:
    done = typed("failsafe", tiny(tmp_path), "--hours", "1e5")

    assert (done.code, done.out) == (2, "")
    assert done.err.startswith("--hours: must be at most 1,000,000 starts of 2 s")


def test_a_reaction_longer_than_was_asked_ends_with_one_and_says_so(tmp_path: Path) -> None:
    files = ("--reaction-ms", "20", "--junit", tmp_path / "d.xml", "--json", tmp_path / "d.json")
    done = typed("failsafe", tiny(tmp_path, OUTPUT), *QUICK, *SILENT, *files)
    [failure] = ET.parse(tmp_path / "d.xml").getroot().findall(".//failure")
    document = json.loads((tmp_path / "d.json").read_text(encoding="utf-8"))

    assert done.code == 1
    assert "FAILS: drive does not keep what was asked.\n! drive: with its timeout of " in done.out
    assert "not within the 20 ms asked (--reaction-ms)" in " ".join(done.out.split())
    assert "--reaction-ms" in (failure.get("message") or "")
    assert document["ok"] is False
    assert document["violations"][0]["asked"] == 20
