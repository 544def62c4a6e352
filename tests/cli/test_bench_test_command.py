"""`radiosim bench-test` as a user types it."""

import json
from pathlib import Path

from tests.cli.typed import tiny, typed

FEW = ("--starts", 3, "--minutes", 0.1, "--workers", 1)


def test_a_sheet_is_told_in_80_columns(tmp_path: Path) -> None:
    done = typed("bench-test", tiny(tmp_path), *FEW)

    assert done.code == 0
    title, blanks, caution = done.out.splitlines()[:3]
    assert title == "Bench test sheet: Tiny"
    assert blanks.startswith("Date ____")
    assert "propellers off" in caution
    assert "measured" in done.out
    assert "________" in done.out
    assert max(map(len, done.out.splitlines())) <= 80


def test_a_sheet_is_a_page_json_and_csv_too(tmp_path: Path) -> None:
    page, folder = tmp_path / "sheet.html", tmp_path / "csv"
    arguments = ("--page", page, "--json", "-", "--csv", folder)
    done = typed("bench-test", tiny(tmp_path), *FEW, *arguments)
    steps = [step for chapter in json.loads(done.out)["chapters"] for step in chapter["steps"]]
    cases = [case for step in steps for case in step["cases"]]

    assert {"upload.drive", "reads.drive", "power_off.drive"} <= {case["key"] for case in cases}
    assert page.read_text(encoding="utf-8").count('<section class="step">') == len(steps)
    rows = (folder / "predictions.csv").read_text(encoding="utf-8").splitlines()
    assert len(rows) == 1 + sum(len(case["predicted"]) for case in cases)


def test_a_page_that_cannot_be_written_is_refused_first(tmp_path: Path) -> None:
    done = typed("bench-test", tiny(tmp_path), "--page", tmp_path / "none" / "sheet.html")

    assert done.code == 2
    assert "folder that exists" in done.err
    assert done.out == ""


def test_a_scenario_that_is_wrong_is_told_in_a_line(tmp_path: Path) -> None:
    done = typed("bench-test", tiny(tmp_path), "--set", "transmitter.drive.period_ms=-1")

    assert done.code == 2
    assert "period_ms" in done.err
