"""The bench sheet in a real browser: nothing to complain of, nothing too wide, every blank there."""

import re
import subprocess
from pathlib import Path

import pytest

from radiosim.report.bench.page import card_page
from radiosim.scenario import load, parse
from radiosim.scenario.shipped import shipped_scenario
from radiosim.study.bench import bench_test_sheet
from tests.report.page.browser import CHROMIUM, browser

pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="needs chromium; .ci/run installs it")

_TOO_WIDE = """
[...document.querySelectorAll('table')].filter(it => it.scrollWidth > it.clientWidth).length
"""
_LOWEST_BLANK = """
Math.min(...[...document.querySelectorAll('.blank')].map(it => it.getBoundingClientRect().height))
"""
"""In CSS pixels, 96 an inch: 20 are 5.3 mm, and lines of writing paper are 6 to 8 mm apart."""

SCENARIO = """
title = "<b>A & B</b>"
radio.profile = "gfsk-1M"
transmitter.drive = { period_ms = 20, payload_bytes = 4 }
transmitter.head = { period_ms = 23, payload_bytes = 4 }
failsafe.drive = { timeout_ms = 250 }
[output.motor]
stream = "drive"
field = "value"
kind = "pin"
on_failsafe = "off"
"""


def test_a_card_is_whole_on_a_phone_a_dark_screen_and_paper(tmp_path: Path) -> None:
    sheet = bench_test_sheet(parse(SCENARIO), starts=3, minutes=0.05, workers=1)
    page = tmp_path / "sheet.html"
    page.write_text(card_page(sheet), encoding="utf-8")
    bands = [it for step in sheet.steps for case in step.cases for it in case.predicted]
    blanks = sum(not it.is_seen and it.aspect not in ("bound", "reboot") for it in bands)
    with browser(tmp_path / "profile") as tab:
        for width, scheme, kind in ((360, "light", "screen"), (1200, "dark", "screen"),
                                    (760, "light", "print")):  # fmt: skip
            tab.open(page, width=width, scheme=scheme, kind=kind)

            assert tab.ask("document.documentElement.scrollWidth") <= width
            assert tab.ask("document.querySelectorAll('.blank').length") == blanks > 0
            assert tab.ask(_TOO_WIDE) == 0
            assert tab.ask(_LOWEST_BLANK) >= 20
            assert tab.complaints == []
            assert tab.fetched == [page.resolve().as_uri()]


def sheets_of(page: Path, folder: Path) -> int:
    """Pages of paper that the browser makes of a file."""
    assert CHROMIUM is not None
    paper = folder / "sheet.pdf"
    subprocess.run(
        [
            CHROMIUM,
            "--headless",
            "--no-sandbox",
            "--disable-gpu",
            "--no-pdf-header-footer",
            f"--user-data-dir={folder / 'profile'}",
            f"--print-to-pdf={paper}",
            page.resolve().as_uri(),
        ],
        check=True,
        capture_output=True,
        timeout=60,
    )
    # One object of each page says so (ISO 32000-1, 7.7.3.3).
    return len(re.findall(rb"/Type */Page\b(?!s)", paper.read_bytes()))


@pytest.mark.parametrize(("name", "most"), [("smallest", 3), ("culvert-crawler", 4)])
def test_a_card_is_a_few_sheets_of_paper(name: str, most: int, tmp_path: Path) -> None:
    given = shipped_scenario(name)
    assert given is not None
    page = tmp_path / "sheet.html"
    page.write_text(
        card_page(bench_test_sheet(load(given.path), starts=3, minutes=0.1, workers=1)),
        encoding="utf-8",
    )

    assert 0 < sheets_of(page, tmp_path) <= most
