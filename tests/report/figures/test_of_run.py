"""Figures of a run say what its results say; the same numbers give the same picture."""

import re

import numpy as np
import pytest

from radiosim.engine.simulate import simulate
from radiosim.measure import Summary, summarise
from radiosim.report.figures import beats, gaps, pointing, strip_lanes
from radiosim.report.figures.canvas import INK, SERIES
from radiosim.report.figures.of_run import figures_of_run
from radiosim.scenario import parse
from radiosim.trace import COLLISION, NEW, Trace
from radiosim.vehicle.vehicle import VehicleRecord, run_vehicle

SCENARIO = """
title = "$\\\\frac{1}$ <b>"
duration_s = 20
starts = 1
radio.profile = "gfsk-1M"
receiver.boot_s = 0
transmitter.drive = { boot_s = 0, period_ms = 20, payload_bytes = 12, acknowledge = false }
failsafe.drive = { timeout_ms = 250 }
air.loss = 0.05
[transmitter.head]
boot_s = 0
period_ms = 20.001
payload_bytes = 12
acknowledge = false
[transmitter.head.signals]
value = { kind = "sine", period_s = 3, amplitude = 0.9 }
[output.camera]
stream = "head"
field = "value"
servo = { travel_deg = 180, over_us = [500, 2500], seconds_per_60deg = 0.12, dead_band_us = 5 }
"""


@pytest.fixture(scope="module")
def trace() -> Trace:
    return simulate(parse(SCENARIO, "figures.toml"), start=0, engine="reference")


@pytest.fixture(scope="module")
def summary(trace: Trace) -> Summary:
    return summarise(trace, has_curves=True)


@pytest.fixture(scope="module")
def vehicle(trace: Trace) -> VehicleRecord:
    return run_vehicle(trace)


def test_slow_clocks_are_followed_over_the_whole_start(trace: Trace) -> None:
    data = beats.beats_data(trace)

    assert data is not None
    assert (data.from_s, data.to_s) == (0.0, 20.0)
    assert data.lost == np.count_nonzero(trace.attempts["fate"] == COLLISION)
    assert np.ptp(np.diff(data.offset_ms)) < 1.0 or data.lost_at_s


def test_frames_while_the_other_transmitter_is_off_are_left_out_and_told_of() -> None:
    fault = '[[fault]]\nat_s = 5\nkind = "power_off"\nunit = "drive"\nfor_s = 2\n'
    off = simulate(parse(SCENARIO + fault, "off.toml"), start=0, engine="reference")
    data = beats.beats_data(off)

    assert data is not None
    # Periods of 20 ms: 2 s are some hundred frames, and nearest ones are within half of it.
    assert 95 <= data.left_out <= 105
    assert max(map(abs, data.offset_ms)) <= data.within_ms < 10.1
    assert f"{data.left_out} frames are left out: drive was silent" in beats.figure_of(data).text


def test_no_frame_is_left_out_while_both_send(trace: Trace) -> None:
    data = beats.beats_data(trace)

    assert data is not None
    assert data.left_out <= 2
    assert ("left out" in beats.figure_of(data).text) == (data.left_out > 0)


def test_one_transmitter_has_no_meetings(trace: Trace) -> None:
    alone = SCENARIO.split("[transmitter.head]", maxsplit=1)[0]
    only = simulate(parse(alone, "one.toml"), start=0, engine="reference")

    assert beats.beats_data(only) is None
    assert pointing.pointing_data(only, run_vehicle(only)) is None


def test_a_strip_holds_every_attempt_of_its_span(trace: Trace, vehicle: VehicleRecord) -> None:
    data = strip_lanes.strip_data(
        trace, vehicle, name="s", from_ms=1000, to_ms=2000, about="A second"
    )

    shown = {
        lane.name: [span.fate for span in lane.spans]
        for lane in data.lanes
        if lane.kind == "transmitter"
    }
    for number, name in enumerate(shown):
        mine = trace.attempts[trace.attempts["stream"] == number]
        inside = mine[(mine["start_ns"] < 2_000_000_000) & (mine["end_ns"] >= 1_000_000_000)]
        assert len(shown[name]) == len(inside)
        assert shown[name].count("new") == np.count_nonzero(inside["fate"] == NEW)


THREE = """
duration_s = 4
radio.profile = "gfsk-1M"
receiver.boot_s = 0
transmitter.first = { boot_s = 0, period_ms = 19, payload_bytes = 4, acknowledge = false }
transmitter.second = { boot_s = 0, period_ms = 10, payload_bytes = 32, acknowledge = false }
transmitter.third = { boot_s = 0, period_ms = 10.001, payload_bytes = 32, acknowledge = false }
"""


def overlapping(trace: Trace, first: int, second: int, until_s: float = 4.0) -> int:
    """Attempts of two transmitters lost to a collision while the other's were on the air, one by
    one."""
    rows = trace.attempts.tolist()
    both = {first: second, second: first}
    on_air = [(row[0], row[5], row[6]) for row in rows]
    return sum(
        any(k == both[stream] and begin < end_ns and start_ns < end for k, begin, end in on_air)
        for stream, *_, start_ns, end_ns, fate in rows
        if fate == COLLISION and stream in both and start_ns <= until_s * 1e9
    )


@pytest.mark.parametrize("start", [0, 2, 3])
def test_of_three_transmitters_the_two_that_collide_most_are_shown(start: int) -> None:
    trace = simulate(parse(THREE, "three.toml"), start=start, engine="reference")
    counts = {pair: overlapping(trace, *pair) for pair in ((0, 1), (0, 2), (1, 2))}
    data = beats.beats_data(trace)

    assert data is not None
    names = tuple(trace.scenario.transmitter)
    most = max(counts, key=counts.__getitem__)
    assert counts[most] > 0
    assert (data.first, data.second) == (names[most[0]], names[most[1]])
    assert data.from_s > 0 or data.lost == overlapping(trace, *most, data.to_s)
    assert "Of the 3 transmitters these two collide most" in beats.figure_of(data).text


@pytest.mark.slow
def test_the_same_numbers_give_the_same_pictures(trace: Trace, summary: Summary) -> None:
    first, second = figures_of_run(summary, trace), figures_of_run(summary, trace)

    assert [figure.name for figure in first] == [
        "gaps",
        "worst",
        "beats",
        "latency",
        "pointing",
        "first",
    ]
    for one, other in zip(first, second, strict=True):
        assert one.draw().wide_svg == other.draw().wide_svg
        assert one.draw().narrow_svg == other.draw().narrow_svg


@pytest.mark.slow
def test_pictures_carry_no_colour_of_their_own(trace: Trace, summary: Summary) -> None:
    for figure in figures_of_run(summary, trace):
        drawing = figure.draw()
        for svg in (drawing.wide_svg, drawing.narrow_svg):
            assert INK not in svg
            assert SERIES[0] not in svg
            assert "var(--ink)" in svg
            assert not re.findall(r"(?:fill|stroke): #", svg)
            assert not re.findall(r"<(?:style|metadata|script)", svg)


def test_what_a_label_says_is_not_rounded_with_the_drawing(trace: Trace, summary: Summary) -> None:
    svg = gaps.figure_of(gaps.gaps_data(summary, trace.scenario)).draw().wide_svg

    assert "0.00 %" not in svg


def test_every_figure_has_its_numbers_in_words(trace: Trace, summary: Summary) -> None:
    for figure in figures_of_run(summary, trace):
        assert re.search(r"\d", figure.text)
        assert re.search(r"\.$", figure.text)
