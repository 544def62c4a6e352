"""What stands in `reports/` is what the code makes; after a meant change make it again."""

import json
from typing import Any

import pytest

from tests.reports.make import ROOT, SCENE, reports

REPORTS = ROOT / "reports"
CHECKS = ("checks.csv", "checks.md")
"""Looked after by test_checks.py."""


@pytest.fixture(scope="module")
def made() -> dict[str, str]:
    return reports()


def same(stored: Any, fresh: Any) -> bool:
    """Equal, but for the last digits of what went through the machine's own mathematics."""
    if isinstance(stored, dict) and isinstance(fresh, dict):
        return stored.keys() == fresh.keys() and all(same(stored[k], fresh[k]) for k in stored)
    if isinstance(stored, list) and isinstance(fresh, list):
        return len(stored) == len(fresh) and all(map(same, stored, fresh))
    if isinstance(stored, float) and isinstance(fresh, int | float):
        return fresh == pytest.approx(stored, rel=1e-9)
    return bool(stored == fresh)


def test_the_main_scene_still_gives_the_stored_figures(made: dict[str, str]) -> None:
    name = f"{SCENE}.json"
    stored = json.loads((REPORTS / name).read_text(encoding="utf-8"))

    assert same(stored, json.loads(made[name]))


@pytest.mark.parametrize("ending", ["txt", "svg"])
def test_the_main_scene_still_prints_the_stored_lines(made: dict[str, str], ending: str) -> None:
    name = f"{SCENE}.{ending}"

    assert (REPORTS / name).read_text(encoding="utf-8") == made[name]


def test_nothing_else_stands_in_reports(made: dict[str, str]) -> None:
    assert {path.name for path in REPORTS.iterdir()} == {*made, *CHECKS}
