"""What holds for the report of every command, on every backend."""

import json
import re
from collections.abc import Iterator
from pathlib import Path

import msgspec
import pytest

from radiosim.results.cell_html import notebook_html
from radiosim.results.data import csv_files, json_text, schema
from radiosim.results.html import page_html
from radiosim.results.terminal import plain_text
from radiosim.safety import CAUTION
from tests.report.page.browser import CHROMIUM, Browser, browser
from tests.report.page.test_in_a_browser import OUTSIDE, SHOWN, TOO_SMALL
from tests.report.reports import FIGURES, REPORTS
from tests.results.test_in_a_browser import CUT
from tests.test_safety import broken

VIEWS: tuple[tuple[int, dict[str, str]], ...] = (
    (360, {}),
    (390, {"scheme": "dark"}),
    (1280, {}),
    (703, {"kind": "print"}),
)
every_report = pytest.mark.parametrize("command", REPORTS)


@every_report
@pytest.mark.parametrize("width", [40, 60, 80, 120])
def test_it_fits_the_terminal_and_warns(command: str, width: int) -> None:
    text = plain_text(REPORTS[command](), width)

    assert max(map(len, text.splitlines())) <= width
    assert CAUTION in " ".join(text.split())


@every_report
def test_no_line_of_it_sends_anybody_into_danger(command: str) -> None:
    wide = plain_text(REPORTS[command](), 10_000, is_more=True)

    assert {line: list(broken(line)) for line in wide.splitlines() if list(broken(line))} == {}


@every_report
def test_a_notebook_shows_the_caution(command: str) -> None:
    assert f"<p>{CAUTION}</p>" in notebook_html(REPORTS[command]())


@pytest.mark.slow
@every_report
def test_its_page_has_every_figure_warns_and_tells_how_it_was_made(command: str) -> None:
    text = page_html(REPORTS[command]())

    assert set(re.findall(r'<figure id="figure-([^"]+)"', text)) == FIGURES[command]
    assert text.count("<svg") == 2 * len(FIGURES[command])
    assert len(text.encode()) < 1_500_000
    box = re.search(r'<section class="caution".*?</section>', text, re.DOTALL)
    assert box is not None
    assert f"<p>{CAUTION}</p>" in box[0]
    assert f"radiosim {command} a" in text


@pytest.mark.slow
@every_report
def test_the_same_results_make_the_same_page(command: str) -> None:
    assert page_html(REPORTS[command]()) == page_html(REPORTS[command]())


@every_report
def test_its_data_are_json_and_its_tables_csv(command: str) -> None:
    report = REPORTS[command]()

    assert json.loads(json_text(report))
    for text in csv_files(report).values():
        names = text.splitlines()[0].split(",")
        assert len(set(names)) == len(names)


@every_report
def test_its_json_is_its_data_by_the_schema_of_its_type(command: str) -> None:
    data = REPORTS[command]().data

    assert schema(type(data))["$defs"]
    assert msgspec.json.decode(json_text(REPORTS[command]()), type=type(data)) == data


@pytest.fixture(scope="module")
def tab(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    with browser(tmp_path_factory.mktemp("profile")) as tab:
        yield tab


@pytest.mark.slow
@pytest.mark.skipif(CHROMIUM is None, reason="needs chromium; .ci/run installs it")
@every_report
def test_its_page_is_whole_on_phones_dark_screens_and_paper(
    tab: Browser, tmp_path: Path, command: str
) -> None:
    page = tmp_path / "page.html"
    page.write_text(page_html(REPORTS[command]()), encoding="utf-8")
    for width, media in VIEWS:
        tab.open(page, width=width, **media)

        assert tab.ask("document.documentElement.scrollWidth") <= width
        assert set(tab.ask(SHOWN)) == {f"figure-{name}" for name in FIGURES[command]}
        assert tab.ask(TOO_SMALL) == 0
        assert tab.ask(OUTSIDE) == []
        assert tab.ask(CUT) == []
        assert tab.complaints == []
        assert tab.fetched == [page.resolve().as_uri()]
