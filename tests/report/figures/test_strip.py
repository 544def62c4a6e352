"""A strip shows all that transmitters and the receiver did in its milliseconds."""

import dataclasses
import re
from collections import Counter

import numpy as np
import pytest

from radiosim.engine.plan import make_plan
from radiosim.engine.simulate import simulate
from radiosim.measure import summarise
from radiosim.report.figures import strip
from radiosim.report.figures.canvas import NARROW_PX
from radiosim.report.figures.of_run import figures_of_run, what_stops
from radiosim.report.figures.strip_lanes import (
    ACKNOWLEDGES,
    DEAF,
    HEARS,
    IDLE,
    MOST_MARKS,
    SETTLES,
    UNHEARD,
    Lane,
    Span,
    StripData,
    strip_data,
)
from radiosim.report.figures.strip_paint import LOST, Bar, Mark, pieces
from radiosim.report.spans import inside, union, without
from radiosim.report.waveform import signals_of
from radiosim.scenario import parse
from radiosim.trace import TAKEN, Fate, Trace
from radiosim.vehicle.vehicle import pass_starts, run_vehicle

SCENARIO = """
duration_s = 4
starts = 1
radio.profile = "gfsk-1M"
receiver.boot_s = 0
transmitter.drive = { boot_s = 0, period_ms = 20, payload_bytes = 12 }
transmitter.head = { period_ms = 23, payload_bytes = 12, boot_s = 0.05 }
failsafe.drive = { timeout_ms = 250 }
air.loss = 0.1
air.acknowledge_loss = 0.2
receiver.deaf = [{ every_ms = 33, for_ms = 8 }]
receiver.watchdog_ms = 300
[[fault]]
at_s = 2
kind = "power_off"
unit = "head"
for_s = 1
"""
MS = 1_000_000
LOW, HIGH = 1_950, 2_100


def start(*overrides: str) -> Trace:
    return simulate(parse(SCENARIO, "strip.toml", overrides=overrides), start=0, engine="reference")


def shown(trace: Trace, low_ms: int = LOW, high_ms: int = HIGH) -> StripData:
    return strip_data(
        trace, run_vehicle(trace), name="s", from_ms=low_ms, to_ms=high_ms, about="Some time"
    )


def lane(data: StripData, kind: str, number: int = 0) -> Lane:
    return [lane for lane in data.lanes if lane.kind == kind][number]


def spans_ns(spans: tuple[Span, ...], *fates: str) -> list[tuple[int, int]]:
    found = (span for span in spans if not fates or span.fate in fates)
    return union((round(span.start_ms * MS), round(span.end_ms * MS)) for span in found)


@pytest.fixture(scope="module")
def trace() -> Trace:
    return start()


def test_every_acknowledgement_stands_with_its_transmitter(trace: Trace) -> None:
    data = shown(trace, 0, 4_000)

    for number in (0, 1):
        mine = trace.acknowledgements[trace.acknowledgements["stream"] == number]
        fates = Counter(span.fate for span in lane(data, "transmitter", number).acknowledgements)
        assert fates.total() == len(mine)
        assert fates["taken"] == np.count_nonzero(mine["fate"] == TAKEN)
        assert 0 < fates["taken"] < fates.total()
    radio = Counter(span.fate for span in lane(data, "radio").spans)
    assert radio[ACKNOWLEDGES] + radio[UNHEARD] == len(trace.acknowledgements)


def test_every_pass_that_begins_is_marked(trace: Trace) -> None:
    plan, data = make_plan(trace.scenario, 0), shown(trace)

    begun = sorted(
        round(span.start_ms * MS) for span in lane(data, "passes").spans if span.start_ms >= LOW
    )
    assert begun == [at for at in pass_starts(trace, plan) if LOW * MS <= at < HIGH * MS]
    fates = {span.fate for span in lane(data, "passes").spans}
    assert IDLE in fates
    assert fates - {IDLE}


@pytest.mark.parametrize("fault", ["", "reset", "hang"])
def test_the_radio_listens_when_the_strip_does_not_say_that_it_is_deaf(fault: str) -> None:
    struck = () if not fault else (f"fault=[{{at_s=2, kind='{fault}', unit='receiver'}}]",)
    trace = start(*struck)
    data = shown(trace)
    listens = next(
        signal
        for signal in signals_of(trace)
        if (signal.scope, signal.name) == (("receiver",), "listens")
    )
    ends = [at for at, _ in listens.changes] + [trace.duration_ns] * (len(listens.changes) % 2)
    window = [(LOW * MS, HIGH * MS)]

    radio = lane(data, "radio")
    deaf = spans_ns(radio.spans, ACKNOWLEDGES, UNHEARD, SETTLES, DEAF) + spans_ns(radio.down)

    assert spans_ns(radio.spans, DEAF)
    assert without(window, deaf) == inside(zip(ends[::2], ends[1::2], strict=True), window)
    assert inside(spans_ns(radio.spans, HEARS), spans_ns(radio.spans, DEAF)) == []


def test_a_transmitter_that_is_switched_off_is_shown_as_not_running(trace: Trace) -> None:
    assert spans_ns(lane(shown(trace), "transmitter", 1).down) == [(2_000 * MS, HIGH * MS)]
    assert lane(shown(trace), "transmitter", 0).down == ()


@pytest.mark.parametrize("passes_ms", [0.4, 0.6])
def test_too_many_idle_passes_are_left_out_and_told(passes_ms: float) -> None:
    data = shown(start(f"receiver.loop_ms={passes_ms}"))
    idle = sum(span.fate == IDLE for span in lane(data, "passes").spans)

    is_too_much = 150 / passes_ms > MOST_MARKS + 20
    assert (idle == 0) == is_too_much
    assert ("Too many to be drawn: " in strip.figure_of(data).text) == is_too_much


def test_too_many_deaf_spans_are_left_out_and_told() -> None:
    data = shown(start("receiver.deaf=[{every_ms = 0.3, for_ms = 0.01}]"))

    assert DEAF not in {span.fate for span in lane(data, "radio").spans}
    assert "spans in which its program makes the receiver deaf" in strip.figure_of(data).text


def test_a_close_up_is_of_a_gap_that_no_fault_explains(trace: Trace) -> None:
    worst = next(
        each
        for each in figures_of_run(summarise(trace, has_curves=True), trace)
        if each.name == "worst"
    )

    assert worst.title.startswith("head's longest gap without a fault begins: ")


@pytest.mark.parametrize(
    ("fault", "stream", "wait_ms", "says"),
    [
        ("at_s=2, kind='power_off', unit='head', for_s=1", "head", (1_990, 3_100), "switched off"),
        ("at_s=2, kind='power_off', unit='head', for_s=1", "drive", (1_990, 3_100), None),
        ("at_s=2, kind='power_off', unit='head', for_s=0.1", "head", (1_700, 2_110), None),
        ("at_s=2, kind='power_off', unit='head', for_s=0.1", "head", (2_200, 2_300), None),
        ("at_s=2, kind='stale', unit='head', for_s=1", "head", (1_990, 3_100), None),
        ("at_s=2, kind='reset', unit='head'", "head", (1_990, 2_080), "head is reset"),
        ("at_s=2, kind='hang', unit='receiver'", "head", (1_990, 2_350), "receiver hangs"),
        ("at_s=2, kind='jam', unit='air', for_s=1", "drive", (1_990, 3_000), "air is jammed"),
        ("at_s=2, kind='out_of_range', unit='head', for_s=1", "head", (1_990, 3_000), "range"),
        ("at_s=2, kind='radio_reset', unit='head'", "head", (1_990, 3_000), "its settings"),
        ("at_s=2, kind='brownout', unit='receiver', for_s=1", "drive", (1_990, 3_000), "browns"),
    ],
)
def test_only_a_fault_that_makes_up_most_of_a_wait_is_named(
    fault: str, stream: str, wait_ms: tuple[int, int], says: str | None
) -> None:
    given = parse(SCENARIO, "strip.toml", overrides=(f"fault=[{{{fault}}}]",))
    wait = wait_ms[0] * MS, wait_ms[1] * MS

    found = what_stops(given, make_plan(given, 0), stream, wait)

    assert (found is None) == (says is None)
    if found is not None and says is not None:
        assert found[0] == 2_000 * MS
        assert says in found[1]


KINDS = ("transmitter", "radio", "passes", "fifo", "output")


@pytest.mark.parametrize("kind", KINDS)
def test_no_two_things_of_a_lane_look_alike_without_colour(kind: str) -> None:
    looks = [head for head, _ in pieces(Lane(name="", kind=kind, spans=()))]

    shapes = [shape(head) for head in looks]
    assert len(set(shapes)) == len(shapes)


def test_no_two_marks_of_a_key_look_alike_without_colour() -> None:
    lanes = [Lane(name="", kind=kind, spans=()) for kind in KINDS]
    marks = {head for lane in lanes for head, _ in pieces(lane) if isinstance(head, Mark)}

    assert len({shape(mark) for mark in marks}) == len(marks)


def shape(head: Bar | Mark) -> tuple[object, ...]:
    if isinstance(head, Mark):
        return head.marker, head.is_filled
    return head.hatch, head.high, head.face == head.edge


def test_instants_late_in_a_long_start_do_not_touch_on_a_phone() -> None:
    idle = strip_data(start(), run_vehicle(start()), name="s", from_ms=0, to_ms=150, about="Late")
    late = dataclasses.replace(idle, from_ms=275_794.1, to_ms=275_944.1)
    svg = strip.figure_of(late).draw().narrow_svg

    said = re.findall(r">(275\d{3})</text>", svg)
    assert 3 <= len(said) <= 5
    # Letters of this size are some 7 px wide.
    assert len(said) * 7 * len(said[0]) < NARROW_PX


def test_every_way_to_be_lost_has_a_mark() -> None:
    assert set(LOST) == {fate.words for fate in Fate} - {"new", "duplicate"}
