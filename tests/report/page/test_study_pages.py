"""Pages of studies: what each says, and that it stays a page."""

import re

import pytest

from radiosim.report.page import page_html
from tests.report.page.study_pages import PAGES

FIGURES = {
    "layout compare": {"bytes-old", "bytes-new", "change"},
}


@pytest.mark.parametrize("command", PAGES)
def test_every_figure_of_a_study_stands_on_its_page(command: str) -> None:
    text = page_html(PAGES[command]())

    assert set(re.findall(r'<figure id="figure-([^"]+)"', text)) == FIGURES[command]
    assert text.count("<svg") == 2 * len(FIGURES[command])
    assert len(text.encode()) < 1_500_000


@pytest.mark.parametrize("command", PAGES)
def test_a_page_warns_and_tells_how_it_was_made(command: str) -> None:
    page = PAGES[command]()

    assert "propellers off" in " ".join(page.cautions)
    assert page.command.startswith(f"radiosim {command} ")
    assert all(section.figure.text for section in page.sections if section.figure is not None)


@pytest.mark.parametrize("command", PAGES)
def test_the_same_study_makes_the_same_page(command: str) -> None:
    assert page_html(PAGES[command]()) == page_html(PAGES[command]())


def test_a_misread_field_stands_among_the_cautions() -> None:
    page = PAGES["layout compare"]()

    assert page.is_well is False
    assert any("pull is MISREAD" in text for text in page.cautions)
