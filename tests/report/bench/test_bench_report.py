"""What a card looks like: texts escaped, blanks to fill in, 80 columns."""

import io
import re
from functools import cache
from html.parser import HTMLParser

import msgspec
import pytest
from rich.console import Console

from radiosim.report.bench.page import card_page
from radiosim.report.bench.terminal import print_card
from radiosim.report.bench.written import card_csv
from radiosim.scenario import load
from radiosim.scenario.shipped import shipped_scenarios
from radiosim.study.bench import Card, Prediction, bench_card
from tests.report.bench.cards import a_card

HOSTILE = '<script>alert("x")</script>&\x1b[2J{{ 7*7 }}'
SCENARIOS = {it.name: it.path for it in shipped_scenarios()}


@cache
def card_of(name: str) -> Card:
    return bench_card(load(SCENARIOS[name]), starts=3, minutes=0.1, workers=1)


def printed(card: Card) -> str:
    out = io.StringIO()
    print_card(card, Console(file=out, width=80, highlight=False, markup=False, emoji=False))
    return out.getvalue()


def predictions(card: Card) -> list[Prediction]:
    return [it for step in card.steps for turn in step.turns for it in turn.predicted]


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
    page = card_page(a_card(HOSTILE))
    tags = Tags()
    tags.feed(page)

    assert "script" not in tags.tags
    assert '<script>alert("x")</script>' in tags.text
    assert "{{ 7*7 }}" in tags.text


def test_hostile_texts_do_not_steer_a_terminal() -> None:
    text = printed(a_card(HOSTILE))

    assert "\x1b" not in text
    assert max(map(len, text.splitlines())) <= 80


def test_a_page_needs_nothing_from_outside() -> None:
    page = card_page(a_card())

    assert "http://" not in page
    assert "https://" not in page
    assert not re.search(r"\bsrc=|@import|url\(", page)


def test_every_number_has_a_blank_and_everything_to_see_a_box() -> None:
    text, page = printed(a_card()), card_page(a_card())

    # One upload, a stop, a return and a reboot; a bound shares its stop's blank.
    assert len(re.findall("_{8,}", text.split("== Times ==")[1])) == 4
    assert page.count('class="blank"') + page.count('F <i class="line">') == 4
    # Two steps, and what is said of others, of pan and tilt together, and of the lens.
    assert text.count("[ ]") == page.count('class="box"') == 2 + 3


@pytest.mark.parametrize("name", SCENARIOS)
def test_no_blank_of_a_shipped_scenario_is_missing(name: str) -> None:
    card = card_of(name)
    numbers = sum(not it.is_seen and it.aspect != "bound" for it in predictions(card))
    text = printed(card).split("== Times of one frame ==")[1]
    page = card_page(card)

    assert len(re.findall("_{8,}", text)) == numbers
    assert page.count('class="blank"') + len(re.findall(r'F <i class="line">', page)) == numbers


@pytest.mark.parametrize("name", SCENARIOS)
def test_every_output_that_stays_alive_stands_out_at_its_step(name: str) -> None:
    card = card_of(name)
    turns = [turn for step in card.steps for turn in step.turns]
    alive = [{it.of for it in t.predicted if it.text.startswith("STAYS ALIVE")} for t in turns]
    page, text = card_page(card), printed(card)

    # Those of one turn to which the same happens may share a row.
    assert sum(map(bool, alive)) <= page.count('<td role="cell" class="hazard"')
    assert page.count('<td role="cell" class="hazard"') <= sum(map(len, alive))
    assert text.count("[ ] ! STAYS ALIVE") == page.count('<td role="cell" class="hazard"')


@pytest.mark.parametrize("name", SCENARIOS)
def test_a_card_keeps_to_80_columns_and_300_lines(name: str) -> None:
    lines = printed(card_of(name)).splitlines()

    assert max(map(len, lines)) <= 80
    assert len(lines) <= 300


def test_cautions_come_before_the_first_step() -> None:
    text = printed(a_card())
    page = card_page(a_card())

    assert text.index("STAYS ALIVE") < text.index("Wheels") < text.index("[ ] 1.")
    assert page.index("STAYS ALIVE") < page.index("Wheels") < page.index('id="step-1"')


def test_a_stop_stands_beside_its_bound_and_its_return() -> None:
    (row,) = (line for line in printed(a_card()).splitlines() if line.startswith("  motor"))

    stop = "236 to 268  280.3"
    assert re.sub(" +", " ", row).startswith(f"  motor 1500 us {stop}".replace("  ", " "))
    assert re.search(r"80\.0 to 90\.0 +_+$", row)


def test_where_a_band_comes_from_is_marked_and_explained() -> None:
    text = " ".join(printed(a_card()).split())

    assert "one upload, us F" in text
    assert "stop, ms D" in text
    assert "F: closed form" in text
    assert "simulated over 39 power-ons, D: with the fault in each" in text


def test_what_holds_less_or_was_tried_less_often_says_so() -> None:
    text = " ".join(printed(a_card()).split())

    assert "holds (30 tries)" in text
    assert "33 %, over 2 starts" in text


def test_outputs_to_which_the_same_happens_share_a_row() -> None:
    text = printed(a_card())

    assert "  pan, tilt" in text
    assert text.count("STAYS ALIVE: Crawler") == 1


def test_a_row_of_the_csv_is_a_prediction() -> None:
    card = a_card()
    rows = card_csv(card)["steps.csv"].splitlines()

    assert len(rows) == 1 + len(predictions(card))
    assert rows[0].startswith("number,step,turn,of,what,low,high")
    assert rows[2].startswith("2a,power_off,power_off.drive,motor,until it shows 1500 us,236.4,")


def test_json_has_every_number_as_it_is() -> None:
    card = a_card()

    assert msgspec.json.decode(msgspec.json.encode(card), type=Card) == card


def test_a_prediction_is_a_frozen_value() -> None:
    assert Prediction.__struct_config__.frozen


def test_long_names_fold_and_never_part_a_box_from_its_text() -> None:
    long = "the_main_propulsion_motor_of_the_left_side and its gear"
    lines = printed(a_card(long)).splitlines()

    assert max(map(len, lines)) <= 80
    assert not any(re.search(r"\[$|\[ \]$|^ *\]", line) for line in lines)
