"""`radiosim failsafe` as a user types it."""

import json
import xml.etree.ElementTree as ET
from pathlib import Path

from tests.cli.typed import tiny, typed

GUARDED = 'receiver = { watchdog_ms = 100, read = "all" }\n'


def guarded(folder: Path, more: str = "") -> Path:
    path = tiny(folder)
    text = path.read_text(encoding="utf-8")
    text = text.replace(
        "payload_bytes = 6 }", 'payload_bytes = 6, signals = { spare_1 = { kind = "counter" } } }'
    ).replace("timeout_ms = 250 }", 'timeout_ms = 250, watch_field = "spare_1" }')
    path.write_text(text + GUARDED + more, encoding="utf-8")
    return path


ASKED = ("--tries", 4, "--workers", 1, "--nuisance-per-hour", 100)


def test_a_link_that_stops_says_so_with_its_worst_and_the_way(tmp_path: Path) -> None:
    done = typed("failsafe", guarded(tmp_path), *ASKED, "--speed-m-s", 2)

    assert done.code == 0, done.out
    assert "every output that must stop did, in every try" in done.out
    assert "m at 2 m/s" in done.out
    assert "Wheels" in done.out or "wheels off the ground" in done.out
    assert max(map(len, done.out.splitlines())) <= 80


def test_a_link_that_does_not_stop_exits_with_1_and_names_it(tmp_path: Path) -> None:
    done = typed("failsafe", tiny(tmp_path), *ASKED)

    assert done.code == 1
    assert "ALIVE" in done.out
    assert "no watchdog" in " ".join(done.out.split())


def test_a_requirement_on_a_stopping_time_is_judged_here(tmp_path: Path) -> None:
    wanted = '[[requirement]]\nfigure = "worst.drive.stop_ms"\nat_most = %d\n'
    held = typed("failsafe", guarded(tmp_path, wanted % 400), *ASKED)
    missed = typed("failsafe", guarded(tmp_path, wanted % 100), *ASKED)

    assert (held.code, missed.code) == (0, 1)
    assert "worst.drive.stop_ms is" in held.out
    assert "FAILED: worst.drive.stop_ms" in " ".join(missed.out.split())


def test_every_table_is_json_csv_and_junit_too(tmp_path: Path) -> None:
    path, folder, junit = tiny(tmp_path), tmp_path / "csv", tmp_path / "drill.xml"
    done = typed("failsafe", path, *ASKED, "--json", "-", "--csv", folder, "--junit", junit)

    told = json.loads(done.out)
    assert {"drills", "bound", "worst", "trade", "room", "ok"} <= set(told)
    assert told["bound"]["drive"]["terms"][0]["name"] == "wait in the FIFO"
    rows = (folder / "drills.csv").read_text(encoding="utf-8").splitlines()
    assert len(rows) == 1 + len(told["drills"])
    suites = ET.fromstring(junit.read_text(encoding="utf-8"))
    failed = [case for case in suites.iter("testcase") if case.find("failure") is not None]
    assert len(failed) == sum(row["is_failed"] for row in told["drills"])
    assert sum(int(suite.get("failures", "0")) for suite in suites) == len(failed)


def test_a_target_that_cannot_be_written_is_refused_before_anything_runs(tmp_path: Path) -> None:
    done = typed("failsafe", tiny(tmp_path), "--junit", tmp_path / "none" / "drill.xml")

    assert done.code == 2
    assert done.out == ""
