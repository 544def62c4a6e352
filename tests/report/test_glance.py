"""One start at a glance: letters that say what the trace says, and only where they can be seen."""

import io

import pytest
from rich.console import Console

from radiosim import simulate
from radiosim.report.terminal.glance import (
    WIDTH,
    bars_of,
    can_show,
    edges_of,
    glance_lines,
    strip_of,
    waits_of,
)
from radiosim.scenario import parse
from radiosim.trace import Trace

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


def console(*, is_terminal: bool, **how: object) -> Console:
    return Console(file=io.StringIO(), force_terminal=is_terminal, width=80, **how)  # type: ignore[arg-type]


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


def test_every_wait_is_in_a_bar_and_the_longest_at_the_end(trace: Trace) -> None:
    waits_ms = waits_of(trace, 0)
    edges_ms = edges_of([waits_ms])
    bars = bars_of(waits_ms, edges_ms)

    assert (edges_ms[0], edges_ms[-1]) == (min(waits_ms), max(waits_ms))
    assert len(bars) == WIDTH
    # One wait of ten seconds; thousands of a period.
    assert bars[-1] == "▁"
    assert bars.count("█") == 1


def test_without_any_value_there_are_edges_all_the_same() -> None:
    assert edges_of([(), ()])[-1] > edges_of([(), ()])[0] > 0
    assert bars_of((), edges_of([()])) == " " * WIDTH


def test_a_glance_fits_80_columns(trace: Trace) -> None:
    shown = console(is_terminal=True, color_system=None)
    for part in glance_lines(trace):
        shown.print(part)
    text = shown.file.getvalue()  # type: ignore[attr-defined]

    assert max(map(len, text.splitlines())) <= 80
    assert "Start 0 at a glance" in text


def test_pipes_and_plain_terminals_get_none(monkeypatch: pytest.MonkeyPatch) -> None:
    assert can_show(console(is_terminal=True))
    assert not can_show(console(is_terminal=False))
    assert not can_show(console(is_terminal=True, _environ={"TERM": "dumb"}))
    narrow = console(is_terminal=True)
    narrow.width = 60
    assert not can_show(narrow)
