"""The page of a run in a real browser: nothing to complain of, nothing too wide, all figures."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.cli.typed import typed
from tests.report.page.browser import CHROMIUM, Browser, browser

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(CHROMIUM is None, reason="needs chromium; .ci/run installs it"),
]

SCENARIO = """
title = "A page </main>"
starts = 2
duration_s = 5
radio.profile = "gfsk-1M"
transmitter.drive = { period_ms = 20, payload_bytes = 6 }
failsafe.drive = { timeout_ms = 250 }
[transmitter.head_all_around_from_above]
period_ms = 23
payload_bytes = 4
[transmitter.head_all_around_from_above.signals]
value = { kind = "sine", period_s = 3, amplitude = 0.9 }
[output.a_name_that_is_long_for_a_small_screen]
stream = "head_all_around_from_above"
field = "value"
servo = { travel_deg = 180, over_us = [500, 2500], seconds_per_60deg = 0.12, dead_band_us = 5 }
"""
FIGURES = {"gaps", "worst", "beats", "latency", "pointing", "first"}
BARE = """
duration_s = 3
radio.profile = "gfsk-1M"
[transmitter.the_only_one_of_a_long_name]
period_ms = 900
payload_bytes = 6
"""
"""One transmitter, few reads, no failsafe, no output, no motion."""
CROWDED = """
starts = 3
duration_s = 8
radio.profile = "gfsk-1M"
air.loss = 0.3
""" + "".join(
    f"""
[transmitter.a_stream_that_has_the_number_{k}]
period_ms = {19 + k}
payload_bytes = 4
signals.value = {{ kind = "sine", period_s = {2 + k}, amplitude = 0.9 }}
[failsafe.a_stream_that_has_the_number_{k}]
timeout_ms = {60 + 4 * k}
[output.a_servo_that_has_the_number_{k}]
stream = "a_stream_that_has_the_number_{k}"
field = "value"
servo = {{ seconds_per_60deg = 0.12 }}
[output.another_servo_that_has_the_number_{k}]
stream = "a_stream_that_has_the_number_{k}"
field = "value"
servo = {{ seconds_per_60deg = 0.2 }}
"""
    for k in range(4)
)
ODD = {
    "bare": (BARE, {"gaps", "worst", "latency", "first"}),
    "silent": (BARE + "[air]\nloss = 1.0", {"gaps", "worst", "first"}),
    "crowded": (CROWDED, FIGURES),
}
"""Scenarios with hardly anything to draw, or too much of it, and the figures of their pages."""
SHOWN = """[...document.querySelectorAll('figure')].filter(figure =>
  [...figure.querySelectorAll('svg')].filter(svg => svg.getBoundingClientRect().width > 100)
    .length == 1).map(figure => figure.id)"""
TOO_SMALL = """[...document.querySelectorAll('figure svg text')].filter(text => {
  const svg = text.ownerSVGElement;
  const wide = svg.getBoundingClientRect().width;
  return wide > 0 && 11 * wide / svg.viewBox.baseVal.width < 9; }).length"""
OUTSIDE = """[...document.querySelectorAll('figure svg text')].filter(text => {
  const box = text.getBoundingClientRect();
  const svg = text.ownerSVGElement.getBoundingClientRect();
  return box.width > 0 && (box.left < svg.left - 2 || box.right > svg.right + 2
    || box.top < svg.top - 2 || box.bottom > svg.bottom + 2); }).map(text => text.textContent)"""


def page_of(text: str, folder: Path) -> Path:
    scenario, page = folder / "scenario.toml", folder / "page.html"
    scenario.write_text(text, encoding="utf-8")
    assert typed("run", scenario, "--page", page).code in (0, 1)
    return page


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return page_of(SCENARIO, tmp_path_factory.mktemp("page"))


@pytest.fixture(scope="module")
def tab(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    with browser(tmp_path_factory.mktemp("profile")) as tab:
        yield tab


@pytest.mark.parametrize(
    ("width", "media"),
    [
        (360, {}),
        (1200, {}),
        (360, {"scheme": "dark"}),
        (1200, {"scheme": "dark"}),
        (760, {"kind": "print"}),
    ],
)
def test_the_page_is_whole(tab: Browser, page: Path, width: int, media: dict[str, str]) -> None:
    tab.open(page, width=width, **media)

    assert tab.ask("document.documentElement.scrollWidth") <= width
    assert set(tab.ask(SHOWN)) == {f"figure-{name}" for name in FIGURES}
    assert tab.ask(TOO_SMALL) == 0
    assert tab.ask(OUTSIDE) == []
    assert tab.complaints == []
    assert tab.fetched == [page.resolve().as_uri()]


@pytest.mark.parametrize(
    "name",
    [pytest.param(name, marks=[pytest.mark.slow] if name == "crowded" else []) for name in ODD],
)
def test_pages_of_odd_scenarios_are_whole(tab: Browser, name: str, tmp_path: Path) -> None:
    text, figures = ODD[name]
    page = page_of(text, tmp_path)

    for width in (360, 1200):
        tab.open(page, width=width)
        assert tab.ask("document.documentElement.scrollWidth") <= width
        assert set(tab.ask(SHOWN)) == {f"figure-{figure}" for figure in figures}
        assert tab.ask(OUTSIDE) == []
        assert tab.complaints == []


def test_figures_follow_a_dark_screen(tab: Browser, page: Path) -> None:
    ask = "getComputedStyle(document.querySelector('figure svg text')).fill"
    tab.open(page, width=1200)
    light = tab.ask(ask)

    tab.open(page, width=1200, scheme="dark")

    assert tab.ask(ask) != light


def test_the_page_is_small(page: Path) -> None:
    assert page.stat().st_size < 1_500_000


def test_texts_of_the_scenario_stay_texts(tab: Browser, page: Path) -> None:
    tab.open(page, width=1200)

    assert tab.ask("document.querySelector('h1').textContent") == "A page </main>"
    assert tab.ask("document.querySelector('pre.scenario').textContent").strip() == SCENARIO.strip()
