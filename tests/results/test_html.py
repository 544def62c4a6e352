import json
import re

import msgspec
import pytest

from radiosim.results.document import Column, Section, Sentence, Table
from radiosim.results.html import page_html, page_table
from radiosim.safety import CAUTION
from tests.results.samples import LIMITS, ORIGIN, PAPER, REPORT, SHEET, STREAMS, changed, figure

HOSTILE = "</title></pre></script><script>alert(1)</script>{{ 7*7 }}&\"'"
EVIL = changed(
    title=HOSTILE,
    subject=HOSTILE,
    done=HOSTILE,
    verdict=HOSTILE,
    warnings=(HOSTILE, Sentence(text=HOSTILE, lead=HOSTILE, role="bad")),
    cautions=(HOSTILE,),
    sections=(
        Section(
            heading=HOSTILE,
            sentences=(HOSTILE, Sentence(text=HOSTILE, form="code")),
            figures=(figure(text=HOSTILE, data={"name": HOSTILE}),),
            tables=(
                Table(
                    key="x",
                    caption=HOSTILE,
                    columns=(
                        Column(key="a", title=HOSTILE),
                        Column(key="b", title=HOSTILE, unit=HOSTILE, is_text=True),
                    ),
                    rows=((HOSTILE, HOSTILE),),
                    note=HOSTILE,
                    group_by="",
                ),
            ),
        ),
    ),
    origin=msgspec.structs.replace(
        ORIGIN, scenario_name=HOSTILE, scenario_text=HOSTILE, command=HOSTILE
    ),
)


def test_no_text_of_a_user_becomes_markup() -> None:
    text = page_html(EVIL)

    assert "<script>" not in text
    assert "{{ 7*7 }}" in text
    assert re.findall(r"<script[^>]*>", text) == ['<script type="application/json" id="data-gaps">']


def test_the_numbers_of_a_figure_can_be_read_back() -> None:
    stored = re.search(r'id="data-gaps">(.*?)</script>', page_html(EVIL))

    assert stored is not None
    assert json.loads(stored[1]) == {"name": HOSTILE}


def test_nothing_is_fetched() -> None:
    text = page_html(REPORT)

    assert "default-src 'none'" in text
    assert not re.findall(r"(?:src|href)\s*=\s*[\"'](?!#|data:,)", text)
    assert "url(" not in text
    assert "@import" not in text


@pytest.mark.parametrize(("is_well", "word"), [(True, "well"), (False, "ill"), (None, "open")])
def test_the_verdict_is_marked_by_more_than_its_words(is_well: bool | None, word: str) -> None:
    assert f'class="verdict {word}"' in page_html(changed(is_well=is_well))


def test_what_to_change_and_the_caution_stand_between_verdict_and_figures() -> None:
    text = page_html(REPORT)

    parts = ("FAILED: lamp", "NO BOUND", "To try", "A simulation is not proof", "<figure")
    places = [text.index(part) for part in parts]
    assert places == sorted(places)


def test_the_box_holds_the_safety_text_alone() -> None:
    box = re.search(r'<section class="caution".*?</section>', page_html(REPORT), re.DOTALL)

    assert box is not None
    assert ">Caution</h2>" in box[0]
    assert re.findall(r"<p>(.*?)</p>", box[0]) == [*REPORT.cautions, CAUTION]


def test_a_page_without_a_scenario_at_hand_says_nothing_of_it() -> None:
    origin = msgspec.structs.replace(ORIGIN, scenario_text="", seed=None)

    text = page_html(changed(origin=origin))

    assert "The scenario:" not in text
    assert "seed" not in text.split("<footer>")[1]


def test_sections_for_terminals_and_empty_ones_are_left_out() -> None:
    hidden = Section(heading="Letters", sentences=("x",), where="terminal")
    empty = Section(heading="Nothing at all")

    text = page_html(changed(sections=(hidden, empty)))

    assert "Letters" not in text
    assert "Nothing at all" not in text


def test_columns_of_high_priority_need_more_room() -> None:
    steps = {column.heading.split(",")[0]: column.step for column in page_table(STREAMS).columns}

    assert steps[""] == 0
    assert steps["longest gap"] < steps["update rate"] < steps["99 % gap"] < steps["worst start"]


def test_a_small_table_never_moves_a_column() -> None:
    columns = (Column(key="a", title="part"), Column(key="b", title="time", unit="ms"))

    made = page_table(Table(key="x", columns=columns, rows=(("radio", 1.0),)))

    assert made.step == 0


def test_a_table_without_titles_has_no_head() -> None:
    text = page_html(changed(sections=(Section(tables=(LIMITS,)),)))

    assert "<thead>" not in text
    assert "stops holding" in text


def test_every_value_that_may_move_stands_twice_and_one_of_them_is_hidden() -> None:
    text = page_html(REPORT)

    assert text.count("48.8") == 2
    assert "until-" in text
    for step in set(re.findall(r"until-(\d+)", text)):
        assert f"@container table (min-width: {step}em)" in text


def test_words_are_not_marked_and_numbers_are() -> None:
    text = page_html(REPORT)

    assert '<span class="warn">! 5.03 s</span>' in text
    assert '<span class="bad">cut by a fault</span>' in text


def test_a_sheet_has_boxes_and_blanks() -> None:
    text = page_html(PAPER)

    assert '<body class="sheet">' in text
    assert text.count('<td class="write') == 2 * len(SHEET.rows)
    assert '<i class="box"></i> pan, tilt: untouched' in text


def test_a_folded_table_opens_by_its_caption() -> None:
    folded = msgspec.structs.replace(STREAMS, is_folded=True)

    text = page_html(changed(sections=(Section(tables=(folded,)),)))

    assert "<summary>Streams</summary>" in text
    assert "<caption>" not in text


def test_figures_are_drawn_for_pages_alone() -> None:
    drawn = []
    lazy = figure()
    report = changed(
        sections=(Section(figures=(msgspec.structs.replace(lazy, draw=lambda: _noted(drawn)),)),)
    )
    assert drawn == []

    page_html(report)

    assert drawn == ["gaps"]


def _noted(drawn: list[str]) -> object:
    drawn.append("gaps")
    return figure().draw()
