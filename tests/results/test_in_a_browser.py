"""Pages in a real browser: nothing is cut off, and nothing is there twice, at any width."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from radiosim.results.html import page_html
from tests.report.page.browser import CHROMIUM, Browser, browser
from tests.results.samples import PAPER, REPORT

pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="needs chromium; .ci/run installs it")

CUT = """[...document.querySelectorAll('th, td, td span, pre, p, li')].filter(part => {
  const box = part.getBoundingClientRect();
  return box.width > 0 && (box.right > document.documentElement.clientWidth + 1
    || part.scrollWidth > part.clientWidth + 1 && getComputedStyle(part).display != 'inline');
}).map(part => part.textContent)"""
VALUES = ("48.9", "48.8", "1.43", "23.0", "5.03 s", "19.5 to 24.0", "cut by a fault")


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("pages")
    made = {"report": folder / "report.html", "sheet": folder / "sheet.html"}
    made["report"].write_text(page_html(REPORT), encoding="utf-8")
    made["sheet"].write_text(page_html(PAPER), encoding="utf-8")
    return made


@pytest.fixture(scope="module")
def tab(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    with browser(tmp_path_factory.mktemp("profile")) as tab:
        yield tab


@pytest.mark.slow
@pytest.mark.parametrize("name", ["report", "sheet"])
@pytest.mark.parametrize(
    ("width", "media"),
    [
        (320, {}),
        (390, {}),
        (520, {}),
        (620, {}),
        (1280, {}),
        (390, {"scheme": "dark"}),
        (703, {"kind": "print"}),
    ],
)
def test_nothing_is_cut_off(
    tab: Browser, pages: dict[str, Path], name: str, width: int, media: dict[str, str]
) -> None:
    tab.open(pages[name], width=width, **media)

    assert tab.ask("document.documentElement.scrollWidth") <= width
    assert tab.ask(CUT) == []
    assert tab.complaints == []
    assert tab.fetched == [pages[name].resolve().as_uri()]


@pytest.mark.parametrize("width", [320, 390, 520, 620, 760, 1280])
def test_each_value_of_a_table_is_seen_once(
    tab: Browser, pages: dict[str, Path], width: int
) -> None:
    tab.open(pages["report"], width=width)

    seen = tab.ask("document.querySelector('.table').innerText")

    assert [seen.count(value) for value in VALUES] == [1] * len(VALUES)


def test_a_phone_has_most_columns_below_the_row_and_a_wide_screen_few(
    tab: Browser, pages: dict[str, Path]
) -> None:
    below = "[...document.querySelectorAll('.below span')].filter(s => s.offsetWidth > 0).length"
    counts = []
    for width in (390, 1280):
        tab.open(pages["report"], width=width)
        counts.append(tab.ask(below))

    assert counts[0] > counts[1]


def test_on_paper_a_table_has_the_columns_that_fit_a4(tab: Browser, pages: dict[str, Path]) -> None:
    tab.open(pages["report"], width=703, kind="print")

    seen = tab.ask("document.querySelector('.table').innerText")

    assert [seen.count(value) for value in VALUES] == [1] * len(VALUES)
    assert tab.ask("getComputedStyle(document.querySelector('.table')).containerType") == "normal"


def test_on_paper_a_table_may_end_a_sheet_after_any_row(
    tab: Browser, pages: dict[str, Path]
) -> None:
    tab.open(pages["report"], width=703, kind="print")

    ends = "[...document.querySelectorAll('tr')].map(row => getComputedStyle(row).breakAfter)"
    assert set(tab.ask(ends)) == {"auto"}


def test_colours_follow_the_screen(tab: Browser, pages: dict[str, Path]) -> None:
    ask = "getComputedStyle(document.body).backgroundColor"
    tab.open(pages["report"], width=1280)
    light = tab.ask(ask)

    tab.open(pages["report"], width=1280, scheme="dark")

    assert tab.ask(ask) != light
