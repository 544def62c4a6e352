"""The bench test sheet in a real browser: room to write, and a few sheets of paper."""

import re
import subprocess
from pathlib import Path

import pytest

from radiosim.report.bench_test import bench_test_report
from radiosim.results.html import page_html
from radiosim.scenario import load
from radiosim.scenario.shipped import shipped_scenario
from radiosim.study.bench import bench_test_sheet
from tests.report.page.browser import CHROMIUM, browser
from tests.report.reports import a_bench_test, origin_of

pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="needs chromium; .ci/run installs it")

_LOWEST_BLANK = """
Math.min(...[...document.querySelectorAll('td.write i')].map(
  blank => blank.getBoundingClientRect().height).filter(height => height > 0))
"""
"""In CSS pixels, 96 an inch: 20 are 5.3 mm, and lines of writing paper are 6 to 8 mm apart."""
_SHEETS = 5


def test_blanks_leave_room_for_handwriting(tmp_path: Path) -> None:
    page = tmp_path / "sheet.html"
    page.write_text(page_html(a_bench_test()), encoding="utf-8")
    with browser(tmp_path / "profile") as tab:
        for width, kind in ((1200, "screen"), (703, "print")):
            tab.open(page, width=width, kind=kind)

            assert tab.ask(_LOWEST_BLANK) >= 20


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


@pytest.mark.slow
@pytest.mark.parametrize("name", ["smallest", "culvert-crawler"])
def test_a_bench_test_is_a_few_sheets_of_paper(name: str, tmp_path: Path) -> None:
    given = shipped_scenario(name)
    assert given is not None
    sheet = bench_test_sheet(load(given.path), starts=3, minutes=0.1, workers=1)
    page = tmp_path / "sheet.html"
    page.write_text(page_html(bench_test_report(sheet, origin_of("bench-test"))), encoding="utf-8")

    assert 0 < sheets_of(page, tmp_path) <= _SHEETS
