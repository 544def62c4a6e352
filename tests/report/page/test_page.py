"""The skeleton of pages: texts stay texts, figures stand apart, nothing is fetched."""

import dataclasses
import json
import re

import pytest

from radiosim.report.figures import Drawn
from radiosim.report.page import Page, PageTable, Section, page_html

HOSTILE = "</title></pre></script><script>alert(1)</script>{{ 7*7 }}&\"'"


def figure(name: str = "gaps") -> Drawn:
    return Drawn(
        name=name,
        title="A finding",
        wide_svg="<svg id='w'></svg>",
        narrow_svg="<svg id='n'></svg>",
        text=HOSTILE,
        data={"values": [1.5], "name": HOSTILE},
    )


def page(**changes: object) -> Page:
    made = Page(
        title=HOSTILE,
        what=HOSTILE,
        verdict=HOSTILE,
        is_well=False,
        cautions=(HOSTILE,),
        sections=(
            Section(
                heading=HOSTILE,
                prose=(HOSTILE,),
                figure=figure(),
                tables=(
                    PageTable(
                        caption=HOSTILE, columns=(HOSTILE, "b"), rows=((HOSTILE, "2"),), note="n"
                    ),
                ),
            ),
        ),
        scenario_name=HOSTILE,
        scenario_text=HOSTILE,
        command="radiosim run x",
        seed=1,
        version="0",
    )
    return dataclasses.replace(made, **changes)  # type: ignore[arg-type]  # any field


def test_no_text_of_a_scenario_becomes_markup() -> None:
    text = page_html(page())

    assert "<script>" not in text
    assert "{{ 7*7 }}" in text
    assert re.findall(r"<script[^>]*>", text) == ['<script type="application/json" id="data-gaps">']


def test_the_numbers_of_a_figure_can_be_read_back() -> None:
    text = page_html(page())

    stored = re.search(r'id="data-gaps">(.*?)</script>', text)

    assert stored is not None
    assert json.loads(stored[1]) == figure().data


def test_nothing_is_fetched() -> None:
    text = page_html(page())

    assert "default-src 'none'" in text
    assert not re.findall(r"(?:src|href)\s*=\s*[\"'](?!#|data:,)", text)
    assert "url(" not in text
    assert "@import" not in text


def test_figures_of_one_name_are_refused() -> None:
    section = Section(heading="x", figure=figure())

    with pytest.raises(ValueError, match="different names, got gaps, gaps"):
        page_html(page(sections=(section, section)))


@pytest.mark.parametrize(("is_well", "word"), [(True, "well"), (False, "ill"), (None, "open")])
def test_the_verdict_is_marked_by_more_than_its_words(is_well: bool | None, word: str) -> None:
    assert f'class="verdict {word}"' in page_html(page(is_well=is_well))


def test_a_page_without_a_scenario_at_hand_says_nothing_of_it() -> None:
    assert "The scenario:" not in page_html(page(scenario_text=""))
