"""Pages of studies in a real browser: nothing to complain of, nothing too wide, all figures."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from radiosim.report.page import page_html
from tests.report.page.browser import CHROMIUM, Browser, browser
from tests.report.page.study_pages import PAGES
from tests.report.page.test_in_a_browser import OUTSIDE, SHOWN, TOO_SMALL
from tests.report.page.test_study_pages import FIGURES

pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="needs chromium; .ci/run installs it")

VIEWS: tuple[tuple[int, dict[str, str]], ...] = (
    (360, {}),
    (1200, {"scheme": "dark"}),
    (760, {"kind": "print"}),
)


@pytest.fixture(scope="module")
def tab(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    with browser(tmp_path_factory.mktemp("profile")) as tab:
        yield tab


@pytest.mark.parametrize("command", PAGES)
def test_a_study_is_whole_on_a_phone_a_dark_screen_and_paper(
    tab: Browser, tmp_path: Path, command: str
) -> None:
    page = tmp_path / "page.html"
    page.write_text(page_html(PAGES[command]()), encoding="utf-8")
    for width, media in VIEWS:
        tab.open(page, width=width, **media)

        assert tab.ask("document.documentElement.scrollWidth") <= width
        assert set(tab.ask(SHOWN)) == {f"figure-{name}" for name in FIGURES[command]}
        assert tab.ask(TOO_SMALL) == 0
        assert tab.ask(OUTSIDE) == []
        assert tab.complaints == []
        assert tab.fetched == [page.resolve().as_uri()]
