"""The bench card in a real browser: nothing to complain of, nothing too wide, every blank there."""

from pathlib import Path

import pytest

from radiosim.report.bench.page import card_page
from radiosim.scenario import parse
from radiosim.study.bench import bench_card
from tests.report.page.browser import CHROMIUM, browser

pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="needs chromium; .ci/run installs it")

SCENE = """
title = "<b>A & B</b>"
radio.profile = "gfsk-1M"
transmitter.drive = { period_ms = 20, payload_bytes = 4 }
transmitter.look = { period_ms = 23, payload_bytes = 4 }
failsafe.drive = { timeout_ms = 250 }
[output.motor]
stream = "drive"
field = "value"
kind = "pin"
on_failsafe = "off"
"""


def test_a_card_is_whole_on_a_phone_a_dark_screen_and_paper(tmp_path: Path) -> None:
    card = bench_card(parse(SCENE), starts=3, minutes=0.05, workers=1)
    page = tmp_path / "card.html"
    page.write_text(card_page(card), encoding="utf-8")
    blanks = sum(len(step.predicted) for step in card.steps)
    with browser(tmp_path / "profile") as tab:
        for width, scheme, kind in ((360, "light", "screen"), (1200, "dark", "screen"),
                                    (760, "light", "print")):  # fmt: skip
            tab.open(page, width=width, scheme=scheme, kind=kind)

            assert tab.ask("document.documentElement.scrollWidth") <= width
            assert tab.ask("document.querySelectorAll('.blank').length") == blanks > 0
            assert tab.complaints == []
            assert tab.fetched == [page.resolve().as_uri()]
