"""One start at a glance: letters that say what the trace says, and only where they can be seen."""

import io
import sys

import pytest

from radiosim import simulate
from radiosim.cli.console import has_letters
from radiosim.measure import summarise
from radiosim.report.run import run_report
from radiosim.report.run_more import WIDTH, bars_of, edges_of, gaps_of, strip_of
from radiosim.results.html import page_html
from radiosim.results.terminal import report_lines
from radiosim.scenario import parse
from radiosim.trace import Trace
from tests.report.printing import ORIGIN

SCENARIO = """
duration_s = 56
radio.profile = "gfsk-1M"
receiver.read = "all"
transmitter.drive = { period_ms = 20, payload_bytes = 4 }
[[fault]]
kind = "power_off"
unit = "drive"
at_s = 20
for_s = 10
"""


@pytest.fixture(scope="module")
def trace() -> Trace:
    return simulate(parse(SCENARIO), engine="reference")


def test_a_strip_has_a_letter_a_slice_and_shows_where_nothing_came(trace: Trace) -> None:
    strip = strip_of(trace, 0)

    assert len(strip) == WIDTH
    assert set(strip[1:20]) == {"█"}
    # Off, nothing is sampled either: no letter at all.
    assert set(strip[21:30]) == {" "}
    assert set(strip[31:]) == {"█"}


def test_samples_that_are_not_read_are_a_dot() -> None:
    lost = parse(SCENARIO.partition("[[fault]]")[0] + "air.loss = 1.0\n")

    assert set(strip_of(simulate(lost, engine="reference"), 0)) <= {"·", " "}


def test_every_gap_is_in_a_bar_and_the_longest_at_the_end(trace: Trace) -> None:
    gaps_ms = gaps_of(trace, 0)
    edges_ms = edges_of([gaps_ms])
    bars = bars_of(gaps_ms, edges_ms)

    assert (edges_ms[0], edges_ms[-1]) == (min(gaps_ms), max(gaps_ms))
    assert len(bars) == WIDTH
    # One gap of ten seconds; thousands of a period.
    assert bars[-1] == "▁"
    assert bars.count("█") == 1


def test_without_any_value_there_are_edges_all_the_same() -> None:
    assert edges_of([(), ()])[-1] > edges_of([(), ()])[0] > 0
    assert bars_of((), edges_of([()])) == " " * WIDTH


def test_a_glance_fits_80_columns_and_goes_where_its_letters_are(trace: Trace) -> None:
    summary = summarise(trace)
    report = run_report(summary, trace.scenario, ORIGIN, shown=trace, has_glance=True)
    lines = ["".join(line.plain) for line in report_lines(report, 80)]
    plain = [line.plain for line in report_lines(report, 80, encoding="ascii")]

    assert "Start 0 at a glance" in lines
    assert max(map(len, lines)) <= 80
    assert any(strip_of(trace, 0) in line for line in lines)
    assert "Start 0 at a glance" not in plain


def test_a_page_has_pictures_instead(trace: Trace) -> None:
    summary = summarise(trace)
    report = run_report(summary, trace.scenario, ORIGIN, shown=trace, has_glance=True)

    assert "at a glance" not in page_html(report)


@pytest.mark.parametrize(
    ("is_terminal", "term", "columns", "shows"),
    [
        (True, "xterm", 80, True),
        (False, "xterm", 80, False),
        (True, "dumb", 80, False),
        (True, "xterm", 60, False),
    ],
)
def test_pipes_and_plain_terminals_get_none(
    monkeypatch: pytest.MonkeyPatch, is_terminal: bool, term: str, columns: int, shows: bool
) -> None:
    stream = io.StringIO()
    monkeypatch.setattr(stream, "isatty", lambda: is_terminal, raising=False)
    monkeypatch.setattr(sys, "stdout", stream)
    monkeypatch.setenv("TERM", term)
    monkeypatch.setenv("COLUMNS", str(columns))

    assert has_letters() is shows
