"""Pages of studies: what each says, and that it stays a page."""

import re

import pytest

from radiosim.report.page import page_html
from radiosim.report.page.of_drill import page_of_drill
from radiosim.scenario import parse
from tests.report.page.study_pages import PAGES, a_sound_drill
from tests.study.drill.scenarios import BASE, TIMER, drilled

FIGURES = {
    "failsafe": {"stops", "trade-0", "trade-1"},
    "tune": {"periods", "front", "influence"},
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


def test_a_drill_that_fails_says_where_first() -> None:
    page = PAGES["failsafe"]()

    assert page.is_well is False
    assert page.verdict.startswith("FAILED: not everything stops at power_off drive")
    assert page.cautions[0].startswith("STILL DRIVEN: motor at power_off drive")


def test_a_drill_that_holds_says_so() -> None:
    page = page_of_drill(a_sound_drill(), source="a", scenario_text="", command="c")

    assert page.is_well is True
    assert page.verdict.startswith("PASSED")
    assert page.sections[0].heading.startswith("Everything stops within its bound")


def test_an_output_that_holds_is_no_plain_pass() -> None:
    holding = BASE.replace("{ preset_us = 1500 }", '"hold"') + TIMER
    held = drilled(parse(holding), "power_off", repeats=8)
    page = page_of_drill(held, source="a", scenario_text="", command="c")

    assert page.is_well is None
    assert page.verdict == ("PASSED, but motor does not stop at every fault, as the scenario says.")
    assert any("NO STOP, as the scenario says: motor" in text for text in page.cautions)


def test_titles_of_a_tunings_columns_can_wrap() -> None:
    tables = [table for section in PAGES["tune"]().sections for table in section.tables]
    (front,) = [it for it in tables if it.caption.startswith("Least delay")]

    assert front.columns[:2] == ("drive period", "head period")
