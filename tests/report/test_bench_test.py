"""What a bench test sheet looks like: texts escaped, blanks to fill in, 80 columns."""

import re
from functools import cache
from html.parser import HTMLParser

import msgspec
import pytest

from radiosim.report.bench_test import bench_test_report
from radiosim.results.data import csv_files, json_text
from radiosim.results.document import Report
from radiosim.results.html import page_html
from radiosim.results.terminal import plain_text
from radiosim.scenario import load
from radiosim.scenario.shipped import shipped_scenarios
from radiosim.study.bench import BenchTestSheet, Prediction, bench_test_sheet
from radiosim.study.bench.rests import Rest
from radiosim.study.bench.step import assumed_where
from tests.report.bench_sheets import a_sheet
from tests.report.reports import origin_of

HOSTILE = '<script>alert("x")</script>&\x1b[2J{{ 7*7 }}'
SCENARIOS = {shipped.name: shipped.path for shipped in shipped_scenarios()}
DRIVEN = "STILL DRIVEN"


@cache
def sheet_of(name: str) -> BenchTestSheet:
    return bench_test_sheet(load(SCENARIOS[name]), starts=3, minutes=0.1, workers=1)


def report_of(sheet: BenchTestSheet) -> Report:
    return bench_test_report(sheet, origin_of("bench-test"))


def printed(sheet: BenchTestSheet) -> str:
    return plain_text(report_of(sheet))


def page_of(sheet: BenchTestSheet) -> str:
    return page_html(report_of(sheet))


def predictions(sheet: BenchTestSheet) -> list[Prediction]:
    return [found for step in sheet.steps for case in step.cases for found in case.predicted]


def numbers(sheet: BenchTestSheet) -> int:
    """Predictions with a blank: a bound shares that of its reaction."""
    return sum(not found.is_seen and found.aspect != "bound" for found in predictions(sheet))


def blanks_printed(sheet: BenchTestSheet) -> int:
    """Without those for the date and the units."""
    return len(re.findall("_{8,}", printed(sheet))) - 2


def blanks_on_page(page: str) -> int:
    """Those beside a value, and those after a sentence; a value below its row has both."""
    beside = page.count('"><i></i></td>')
    after = len(re.findall(r"</?li[^>]*>[^<]*<i class=\"line\">", page))
    return beside + after


class Tags(HTMLParser):
    """Every element of a page, and its text."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.text = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        del attrs
        self.tags.append(tag)

    def handle_data(self, data: str) -> None:
        self.text += data


def test_hostile_texts_are_only_text_on_a_page() -> None:
    tags = Tags()
    tags.feed(page_of(a_sheet(HOSTILE)))

    assert "script" not in tags.tags
    assert '<script>alert("x")</script>' in tags.text
    assert "{{ 7*7 }}" in tags.text


def test_hostile_texts_do_not_steer_a_terminal() -> None:
    text = printed(a_sheet(HOSTILE))

    assert "\x1b" not in text
    assert max(map(len, text.splitlines())) <= 80


def test_a_page_needs_nothing_from_outside() -> None:
    page = page_of(a_sheet())

    assert "http://" not in page
    assert "https://" not in page
    assert not re.search(r"\bsrc=|@import|url\(", page)


def test_every_number_has_a_blank_and_everything_to_see_a_box() -> None:
    sheet = a_sheet()
    text, page = printed(sheet), page_of(sheet)

    # One upload, a reaction, a return and a reboot.
    assert numbers(sheet) == blanks_printed(sheet) == blanks_on_page(page) == 4
    # Two steps, and what is said of others, of pan and tilt together, and of the lens.
    assert text.count("[ ]") == 2 + 3


@pytest.mark.parametrize("name", SCENARIOS)
def test_no_blank_of_a_shipped_scenario_is_missing(name: str) -> None:
    sheet = sheet_of(name)

    assert blanks_printed(sheet) == numbers(sheet)
    assert blanks_on_page(page_of(sheet)) == numbers(sheet)


@pytest.mark.parametrize("name", SCENARIOS)
def test_every_output_that_is_still_driven_stands_out_at_its_step(name: str) -> None:
    sheet = sheet_of(name)
    cases = [case for step in sheet.steps for case in step.cases]
    driven = [{found.of for found in c.predicted if found.text.startswith(DRIVEN)} for c in cases]
    text = printed(sheet)

    # Those of one case to which the same happens may share a row.
    assert sum(map(bool, driven)) <= text.count(f"[ ] {DRIVEN}") <= sum(map(len, driven))
    assert text.count(f"! {DRIVEN}") == len(sheet.hazards)
    assert f'<span class="bad">{DRIVEN}' in page_of(sheet) or not any(driven)


@pytest.mark.parametrize("name", SCENARIOS)
def test_a_sheet_keeps_to_80_columns_and_370_lines(name: str) -> None:
    lines = printed(sheet_of(name)).splitlines()

    assert max(map(len, lines)) <= 80
    assert len(lines) <= 370


def test_cautions_and_what_is_still_driven_come_before_the_first_step() -> None:
    for text in (printed(a_sheet()), page_of(a_sheet())):
        assert max(text.index(DRIVEN), text.index("Wheels")) < text.index("1. Upload")


def test_a_reaction_stands_beside_its_bound_and_its_return() -> None:
    (row,) = (line for line in printed(a_sheet()).splitlines() if line.startswith("  motor"))

    shown = "motor 1500 us 236 to 268 ________ 280.3 80.0 to 90.0 ________"
    assert " ".join(row.split()) == shown


def test_where_a_predicted_range_comes_from_is_marked_and_explained() -> None:
    text = " ".join(printed(a_sheet()).split())

    assert "one upload (F), us" in text
    assert "F: closed form" in text
    assert "simulated over 39 starts" in text
    assert "D: with the fault in each" in text


def test_what_holds_less_or_was_tried_less_often_says_so() -> None:
    text = " ".join(printed(a_sheet()).split())

    assert "holds (30 tries)" in text
    assert "33 %, over 2 starts" in text


def test_outputs_to_which_the_same_happens_share_a_row() -> None:
    text = printed(a_sheet())

    assert "  pan, tilt" in text
    assert text.count(f"[ ] {DRIVEN}: Crawler") == 1


def test_a_case_without_an_output_of_its_own_is_there_too() -> None:
    sheet = a_sheet()
    steps = [
        msgspec.structs.replace(
            step,
            cases=tuple(
                msgspec.structs.replace(
                    case, predicted=tuple(p for p in case.predicted if p.aspect == "others")
                )
                if case.key == "power_off.drive"
                else case
                for case in step.cases
            ),
        )
        for step in sheet.chapters[1].steps
    ]
    fault = msgspec.structs.replace(sheet.chapters[1], steps=tuple(steps))
    text = printed(msgspec.structs.replace(sheet, chapters=(sheet.chapters[0], fault)))

    assert "2a drive\n" in text
    assert "no output" in text


def test_a_row_of_the_csv_is_a_prediction() -> None:
    sheet = a_sheet()
    rows = csv_files(report_of(sheet))["predictions.csv"].splitlines()

    assert len(rows) == 1 + len(predictions(sheet))
    assert rows[0].startswith("number,step,case,title,of,what,low,high")
    assert rows[2].startswith("2a,power_off,power_off.drive,Off and on,motor,until it shows 1500")
    assert all(row.endswith(",") for row in rows[1:])


def test_json_has_every_number_as_it_is() -> None:
    sheet = a_sheet()

    assert msgspec.json.decode(json_text(report_of(sheet)), type=BenchTestSheet) == sheet


def test_a_prediction_is_a_frozen_value() -> None:
    assert Prediction.__struct_config__.frozen


def test_long_names_fold_and_never_part_a_box_from_its_text() -> None:
    long = "the_main_propulsion_motor_of_the_left_side and its gear"
    lines = printed(a_sheet(long)).splitlines()

    assert max(map(len, lines)) <= 80
    assert not any(re.search(r"\[$|\[ \]$|^ *\]", line) for line in lines)


@pytest.mark.parametrize("is_assumed", [True, False])
def test_a_number_that_rests_on_a_default_is_marked_where_it_stands(is_assumed: bool) -> None:
    rest = Rest(key="transmitter.NAME.spi_hz", value="8", is_default=is_assumed)
    sheet = a_sheet()
    upload = sheet.chapters[0].steps[0]
    cases = assumed_where(lambda *_: is_assumed, upload.cases)
    step = msgspec.structs.replace(upload, cases=cases, rests_on=(rest,))
    chapter = msgspec.structs.replace(sheet.chapters[0], steps=(step,))
    marked = msgspec.structs.replace(sheet, chapters=(chapter, *sheet.chapters[1:]))

    for text in (printed(marked), page_of(marked)):
        assert ("15.9 to 16.1*" in text) == is_assumed
        assert ("spi_hz = 8" in text) == is_assumed
    assert bool(re.search(r"\n  \* +transmitter\.NAME\.spi_hz\n", printed(marked))) == is_assumed


@pytest.mark.parametrize("name", ["smallest", "harbour-tug"])
def test_every_default_that_a_step_rests_on_is_named_at_the_head(name: str) -> None:
    sheet = sheet_of(name)
    head = re.sub(r"\s+", " ", printed(sheet).split("How to read", 1)[1].split("Ranges are", 1)[0])

    for rest in sheet.rests_on:
        assert not rest.is_default or rest.key.rpartition(".")[2] in head
