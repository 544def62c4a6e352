"""The table of outside checks holds what the tests hold; each test compares with its own row."""

import subprocess
import sys

import pytest

from tests.reference.outside import stored_rows
from tests.reports.checks import REFERENCE, as_csv, as_markdown
from tests.reports.make import ROOT

REPORTS = ROOT / "reports"


def collected(markers: str) -> set[str]:
    """File, name and parameters of the tests in tests/reference that have these markers."""
    command = [sys.executable, "-m", "pytest", "--collect-only", "-q", "-n0", "-m", markers]
    done = subprocess.run(
        [
            *command,
            str(REFERENCE),
            "-p",
            "no:cacheprovider",
            "-o",
            "addopts=--import-mode=importlib",
        ],
        capture_output=True,
        text=True,
        check=True,
        cwd=ROOT,
    )
    lines = done.stdout.splitlines()
    return {line.removeprefix("tests/reference/") for line in lines if "::" in line}


@pytest.mark.slow
def test_the_table_holds_every_check_and_no_other() -> None:
    cases = {
        f"{row.check}[{row.case}]" if row.case else row.check for row in stored_rows().values()
    }

    assert collected("outside and not elsewhere") <= cases <= collected("outside")


def test_the_table_is_made_from_its_rows() -> None:
    rows = list(stored_rows().values())

    assert (REPORTS / "checks.csv").read_text(encoding="utf-8") == as_csv(rows)
    assert (REPORTS / "checks.md").read_text(encoding="utf-8") == as_markdown(rows)


def test_there_are_at_least_forty_checks() -> None:
    assert len({row.check for row in stored_rows().values()}) >= 40
