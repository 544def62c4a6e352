"""What stands in `reports/` is what the code makes; after a meant change make it again."""

import json
import re
import struct
from html import unescape
from typing import Any

import pytest

from tests.report.page.browser import CHROMIUM
from tests.reports.live_picture import HEIGHT, WIDTH, live_png
from tests.reports.make import LIVE, MET, ROOT, SCENARIO, reports
from tests.reports.studies import PAGES

REPORTS = ROOT / "reports"
CHECKS = ("checks.csv", "checks.md")
"""Looked after by test_checks.py."""


pytestmark = pytest.mark.slow


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


def test_the_main_scenario_still_gives_the_stored_figures(made: dict[str, str]) -> None:
    name = f"{SCENARIO}.json"
    stored = json.loads((REPORTS / name).read_text(encoding="utf-8"))

    assert same(stored, json.loads(made[name]))


@pytest.mark.parametrize("ending", ["txt", "svg"])
def test_the_main_scenario_still_prints_the_stored_lines(made: dict[str, str], ending: str) -> None:
    name = f"{SCENARIO}.{ending}"

    assert (REPORTS / name).read_text(encoding="utf-8") == made[name]


def figures_in(page: str) -> dict[str, Any]:
    """The numbers of a page's figures by name, or of a figure that stands alone."""
    found = re.findall(r'id="data-([^"]*)">(.*?)</script>', page)
    found += [("alone", unescape(text)) for text in re.findall(r"<metadata>(.*?)</metadata>", page)]
    return {name: json.loads(text) for name, text in found}


def words_in(page: str) -> str:
    """A page without its pictures, which depend on who draws, and their numbers."""
    return re.sub(r"<svg.*?</svg>|<script.*?</script>", "", page, flags=re.DOTALL)


@pytest.mark.parametrize("name", [f"{SCENARIO}.html", f"{MET}-beats.svg"])
def test_figures_are_drawn_from_the_stored_numbers(made: dict[str, str], name: str) -> None:
    stored = (REPORTS / name).read_text(encoding="utf-8")

    assert figures_in(stored)
    assert same(figures_in(stored), figures_in(made[name]))


def test_the_page_still_says_the_stored_words(made: dict[str, str]) -> None:
    name = f"{SCENARIO}.html"

    assert words_in((REPORTS / name).read_text(encoding="utf-8")) == words_in(made[name])


def test_nothing_else_stands_in_reports(made: dict[str, str]) -> None:
    assert {path.name for path in REPORTS.iterdir()} == {*made, *CHECKS, *PAGES, LIVE}


@pytest.mark.skipif(CHROMIUM is None, reason="needs chromium; .ci/run installs it")
def test_the_live_page_s_picture_is_whole() -> None:
    drawn = live_png()

    assert drawn is not None
    # Portable Network Graphics, W3C, third edition, 5.2 and 11.2.1: signature, IHDR.
    assert drawn[:8] == b"\x89PNG\r\n\x1a\n"
    assert struct.unpack(">II", drawn[16:24]) == (WIDTH, HEIGHT)
    assert 100_000 < len(drawn) < 400_000
