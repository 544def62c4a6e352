"""What a card looks like: texts escaped, blanks to fill in, 80 columns."""

import io
import re
from html.parser import HTMLParser

import msgspec
from rich.console import Console

from radiosim.report.bench.page import card_page
from radiosim.report.bench.terminal import BLANK, print_card
from radiosim.report.bench.words import band_text
from radiosim.report.bench.written import card_csv
from radiosim.study.bench.step import Card, Prediction, Step, exact, to_see

HOSTILE = '<script>alert("x")</script>&\x1b[2J{{ 7*7 }}'


def a_card(text: str = "Crawler") -> Card:
    step = Step(
        chapter="Failsafe",
        key="power_off.drive",
        title=f"{text} off",
        do=f"Switch {text} off.",
        measure="Logic analyser.",
        predicted=(
            exact("one upload", 15.92, 16.08, "us"),
            exact("at most", None, 280.25, "ms", "the bound"),
            to_see(text, f"{text} goes on", tries=39),
        ),
        if_not=f"Look at {text}.",
    )
    return Card(
        scene=text,
        title=text,
        version="1",
        seed=1,
        starts=39,
        minutes=10.0,
        cautions=("Wheels off the ground.",),
        steps=(step,),
        notes=(text,),
    )


def printed(card: Card) -> str:
    out = io.StringIO()
    print_card(card, Console(file=out, width=80, highlight=False, markup=False, emoji=False))
    return out.getvalue()


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


def test_every_prediction_has_a_blank() -> None:
    text = printed(a_card())

    assert text.count(BLANK) == 3
    assert card_page(a_card()).count('class="blank"') == 3


def test_cautions_come_before_the_first_step() -> None:
    text = printed(a_card())
    page = card_page(a_card())

    assert text.index("Wheels") < text.index("[ ] 1.")
    assert page.index("Wheels") < page.index('id="step-1"')


def test_bands_say_no_more_and_no_less_than_they_know() -> None:
    upload, bound, seen = a_card().steps[0].predicted

    assert band_text(upload) == "15.9 to 16.1 us"
    assert band_text(bound) == "at most 280 ms"
    assert band_text(seen) == "Crawler goes on"
    near = msgspec.structs.replace(upload, low=19.9988, high=20.0012)
    assert band_text(near) == "19.9988 to 20.0012 us"
    endless = msgspec.structs.replace(upload, high=float("inf"))
    assert band_text(endless) == "15.9 to without end us"


def test_a_row_of_the_table_is_a_prediction() -> None:
    rows = card_csv(a_card())["steps.csv"].splitlines()

    assert len(rows) == 4
    assert rows[0].startswith("number,step,what,low,high")


def test_where_a_band_comes_from_stands_beside_it() -> None:
    text = " ".join(printed(a_card()).split())

    assert "[closed form]" in text
    assert "[simulated over 39 starts]" in text


def test_a_prediction_is_a_frozen_value() -> None:
    assert Prediction.__struct_config__.frozen
