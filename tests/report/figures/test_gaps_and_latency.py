"""Curves of a run's page against the kept traces that they are of, worked out with numpy."""

from collections.abc import Sequence

import msgspec
import numpy as np
import numpy.typing as npt
import pytest

from radiosim.engine.plan import make_plan
from radiosim.engine.plan_rows import PROGRAM_STARTS
from radiosim.engine.simulate import simulate
from radiosim.measure import Summary, summarise, summary_of
from radiosim.measure.start import tally_start
from radiosim.measure.summary import Curve
from radiosim.measure.tally import Range
from radiosim.report.figures import gaps, latency
from radiosim.report.figures.of_run import figures_of_run
from radiosim.scenario import Scenario, parse
from radiosim.trace import READ, Trace
from radiosim.vehicle.vehicle import run_vehicle

Numbers = npt.NDArray[np.float64]

LOSSY = """
title = "Lossy"
duration_s = 20
radio.profile = "gfsk-1M"
failsafe.drive = { timeout_ms = 90 }
air.loss = 0.3
[transmitter.drive]
period_ms = 20
payload_bytes = 12
acknowledge = false
[transmitter.head]
period_ms = 27
payload_bytes = 12
acknowledge = false
[transmitter.head.signals]
value = { kind = "sine", period_s = 3, amplitude = 0.9 }
[output.motor]
stream = "drive"
field = "value"
on_failsafe = { preset_us = 1500 }
[output.camera]
stream = "head"
field = "value"
[[fault]]
at_s = 9
kind = "power_off"
unit = "head"
for_s = 0.7
"""
MEETING = """
title = "Beat"
duration_s = 20
radio.profile = "gfsk-1M"
transmitter.drive = { period_ms = 20, payload_bytes = 32, acknowledge = false }
transmitter.head = { period_ms = 20, payload_bytes = 32, acknowledge = false }
"""
BIN = 2 ** (1 / 64)
"""Width of a bin, as a factor: what is drawn may be so far off in time."""
OFF = 0.01
"""And so far in the share, as a part of it (gaps) or absolute."""


class Run:
    """A few starts that were kept, and their summary."""

    def __init__(self, text: str, starts: int) -> None:
        self.scenario: Scenario = parse(text, "run.toml", overrides=(f"starts={starts}",))
        self.traces = [
            simulate(self.scenario, start=start, engine="reference") for start in range(starts)
        ]
        tallies = [tally_start(trace) for trace in self.traces]
        of_all = Range(first=0, count=starts)
        self.weights = [of_all.weight(tally) for tally in tallies]
        self.summary: Summary = summary_of(self.scenario, tallies, has_curves=True)


@pytest.fixture(scope="module")
def lossy() -> Run:
    return Run(LOSSY, 4)


@pytest.fixture(scope="module")
def meeting() -> Run:
    return Run(MEETING, 5)


def gaps_ms(trace: Trace, stream: int) -> Numbers:
    """From the first sample, or the program's start if that is later, from read to read."""
    reads = trace.reads[(trace.reads["stream"] == stream) & (trace.reads["outcome"] == READ)]
    plan = make_plan(trace.scenario, trace.start)
    up = next(s.at_ns for s in plan.steps if s.unit == len(plan.tx) and s.kind == PROGRAM_STARTS)
    sampled = int(trace.frames[trace.frames["stream"] == stream]["sampled_ns"].min())
    return np.diff([max(sampled, up), *reads["read_ns"], trace.duration_ns]) / 1e6


def delays_ms(trace: Trace, output: str) -> Numbers:
    effects = run_vehicle(trace).outputs[output].effects
    fresh = effects[effects["is_fresh"] == 1]
    return (fresh["end_ns"] - fresh["sampled_ns"]) / 1e6


def ages_ms(trace: Trace, output: str) -> tuple[Numbers, Numbers]:
    """Age of the value in effect, as it begins and as something else is in effect."""
    effects = run_vehicle(trace).outputs[output].effects
    until = np.minimum(np.append(effects["end_ns"][1:], trace.duration_ns), effects["stop_ns"])
    live = (effects["is_live"] == 1) & ~np.isnan(effects["level"])
    begins, ends = effects["end_ns"] - effects["values_ns"], until - effects["values_ns"]
    return begins[live] / 1e6, ends[live] / 1e6


def share_beyond(values: Sequence[Numbers], weights: Sequence[float], ms: float) -> float:
    """Of values of starts that count differently, the share that is at least so long."""
    longer = sum(w * np.count_nonzero(v >= ms) for v, w in zip(values, weights, strict=True))
    return float(longer / sum(w * len(v) for v, w in zip(values, weights, strict=True)))


def time_beyond(ages: Sequence[tuple[Numbers, Numbers]], ms: float) -> float:
    """Share of the time in which an age is at least so high."""
    spent = sum(float((ends - begins).sum()) for begins, ends in ages)
    beyond = sum(
        float(np.maximum(0.0, ends - np.maximum(begins, ms)).sum()) for begins, ends in ages
    )
    return beyond / spent


def drawn_share(curve: Curve, ms: float) -> float:
    """Read off a linear axis of shares."""
    return float(np.interp(np.log10(ms), np.log10(curve.ms), curve.beyond))


def places(curve: Curve) -> list[float]:
    """Times all along a curve, between its points too."""
    return np.geomspace(curve.ms[0] * 0.9, curve.ms[-1] * 0.985, 150).tolist()


def gaps_of(run: Run) -> gaps.GapsData:
    return gaps.gaps_data(run.summary, run.scenario)


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["lossy", "meeting"])
def test_the_drawn_gaps_are_those_of_every_start(kind: str, request: pytest.FixtureRequest) -> None:
    run: Run = request.getfixturevalue(kind)

    for number, stream in enumerate(gaps_of(run).streams):
        assert stream.curve is not None
        values = [gaps_ms(trace, number) for trace in run.traces]
        for ms in places(stream.curve):
            high = share_beyond(values, run.weights, ms / BIN)
            low = share_beyond(values, run.weights, ms * BIN)
            assert low * (1 - OFF) <= gaps.beyond(stream.curve, ms) <= high * (1 + OFF)


def test_starts_that_were_made_to_meet_count_for_less(meeting: Run) -> None:
    assert meeting.summary.starts_around_beats > 0
    assert len(set(meeting.weights)) > 1


def test_the_worst_start_is_drawn_apart(lossy: Run) -> None:
    for number, stream in enumerate(gaps_of(lossy).streams):
        values = [gaps_ms(trace, number) for trace in lossy.traces]
        worst = int(np.argmax([value.max() for value in values]))

        assert stream.worst is not None
        assert (
            stream.worst.start
            == worst
            == lossy.summary.figures.stream[stream.name].longest_gap_start
        )
        for ms in places(stream.worst.curve):
            high = share_beyond(values[worst : worst + 1], [1.0], ms / BIN)
            low = share_beyond(values[worst : worst + 1], [1.0], ms * BIN)
            assert low * (1 - OFF) <= gaps.beyond(stream.worst.curve, ms) <= high * (1 + OFF)


@pytest.mark.slow
def test_the_drawn_delays_and_ages_are_those_of_every_start_at_the_output(lossy: Run) -> None:
    data = latency.latency_data(lossy.summary)

    assert data is not None
    assert [it.name for it in data.controls] == ["motor", "camera"]
    for it in data.controls:
        assert it.latency is not None
        assert it.age is not None
        delays = [delays_ms(trace, it.name) for trace in lossy.traces]
        ages = [ages_ms(trace, it.name) for trace in lossy.traces]
        for ms in places(it.latency):
            high = share_beyond(delays, lossy.weights, ms / BIN)
            low = share_beyond(delays, lossy.weights, ms * BIN)
            assert low - OFF <= drawn_share(it.latency, ms) <= high + OFF
        for ms in places(it.age):
            high, low = time_beyond(ages, ms / BIN), time_beyond(ages, ms * BIN)
            assert low - OFF <= drawn_share(it.age, ms) <= high + OFF


def test_the_oldest_control_has_its_worst_start_apart(lossy: Run) -> None:
    data = latency.latency_data(lossy.summary)

    assert data is not None
    for it in data.controls:
        found = lossy.summary.worst[f"output.{it.name}.age_ms.p99"]
        assert it.worst_age is not None
        assert it.worst_age.start == found.start
        assert drawn_share(it.worst_age.curve, found.value) == pytest.approx(0.01, abs=0.002)


@pytest.mark.parametrize("kind", ["lossy", "meeting"])
def test_curves_agree_with_the_printed_figures(kind: str, request: pytest.FixtureRequest) -> None:
    run: Run = request.getfixturevalue(kind)

    for stream in gaps_of(run).streams:
        spread = run.summary.figures.stream[stream.name].gap_ms
        assert stream.curve is not None
        assert spread.median is not None
        assert spread.p99 is not None
        assert gaps.beyond(stream.curve, spread.median / BIN) >= 0.5 * (1 - OFF)
        assert gaps.beyond(stream.curve, spread.median * BIN) <= 0.5 * (1 + OFF)
        assert gaps.beyond(stream.curve, spread.p99 / BIN) >= 0.01 * (1 - OFF)
        assert gaps.beyond(stream.curve, spread.p99 * BIN) <= 0.01 * (1 + OFF)
        assert stream.curve.ms[-1] == pytest.approx(spread.max, rel=1e-4)
        assert stream.longest_ms == spread.max
    for name, figures in run.summary.figures.output.items():
        assert run.summary.curves is not None
        delays = run.summary.curves.output[name]
        for curve, spread in ((delays.latency, figures.latency_ms), (delays.age, figures.age_ms)):
            assert curve is not None
            assert spread.median is not None
            assert spread.p99 is not None
            for ms, share in ((spread.median, 0.5), (spread.p99, 0.01)):
                assert drawn_share(curve, ms / BIN) >= share - 0.002
                assert drawn_share(curve, ms * BIN) <= share + 0.002
            assert curve.ms[-1] == pytest.approx(spread.max, rel=1e-4)


def test_the_text_tells_how_many_gaps_pass_the_timeout(lossy: Run) -> None:
    text = gaps.figure_of(gaps_of(lossy)).text
    values = np.concatenate([gaps_ms(trace, 0) for trace in lossy.traces])
    share = 100 * np.mean(values > 90)

    said = text.split("% of its gaps are longer than its timeout of 90 ms")[0].split()[-1]
    assert float(said) == pytest.approx(share, rel=0.02)


@pytest.mark.parametrize(
    ("longest_ms", "said"),
    [(250.0, "no gap is longer"), (250.000001, "0.0500 % of its gaps are longer")],
)
def test_title_and_text_agree_on_a_gap_as_long_as_the_timeout(longest_ms: float, said: str) -> None:
    stream = gaps.StreamGaps(
        name="drive",
        timeout_ms=250.0,
        curve=Curve(ms=(20.0, 21.0, 250.0), beyond=(1.0, 0.0005, 0.0)),
        worst=None,
        median_ms=20.0,
        p99_ms=21.0,
        longest_ms=longest_ms,
    )
    figure = gaps.figure_of(gaps.GapsData(starts=2, start=None, streams=(stream,)))

    assert said in figure.text
    assert ("no timeout is met" in figure.title) == ("no gap" in said)


def test_one_start_has_none_apart() -> None:
    run = Run(LOSSY, 1)
    data = latency.latency_data(run.summary)

    assert data is not None
    assert all(stream.worst is None for stream in gaps_of(run).streams)
    assert all(it.worst_age is None for it in data.controls)
    assert "Dashed" not in gaps.figure_of(gaps_of(run)).text + latency.figure_of(data).text


def test_a_stream_that_no_output_follows_is_drawn_up_to_its_read(lossy: Run) -> None:
    figures = lossy.summary.figures
    alone = msgspec.structs.replace(figures, output={"motor": figures.output["motor"]})
    data = latency.latency_data(msgspec.structs.replace(lossy.summary, figures=alone))

    assert data is not None
    assert [(it.name, it.is_output) for it in data.controls] == [("motor", True), ("head", False)]
    delays = [
        (rows["read_ns"] - rows["sampled_ns"]) / 1e6
        for rows in (
            trace.reads[(trace.reads["stream"] == 1) & (trace.reads["outcome"] == READ)]
            for trace in lossy.traces
        )
    ]
    delay = data.controls[1].latency
    assert delay is not None
    for ms in places(delay):
        high = share_beyond(delays, lossy.weights, ms / BIN)
        low = share_beyond(delays, lossy.weights, ms * BIN)
        assert low - OFF <= drawn_share(delay, ms) <= high + OFF


def test_a_run_without_a_value_has_no_latency_and_one_long_gap() -> None:
    nothing = parse(LOSSY, "nothing.toml", overrides=("air.loss=1.0",))
    trace = simulate(nothing, start=0, engine="reference")
    summary = summarise(trace, has_curves=True)

    names = [figure.name for figure in figures_of_run(summary, trace)]
    assert "latency" not in names
    for stream in gaps.gaps_data(summary, nothing).streams:
        assert stream.curve is not None
        assert gaps.beyond(stream.curve, 1000) == 1.0


def test_a_summary_without_curves_is_refused(lossy: Run) -> None:
    without = msgspec.structs.replace(lossy.summary, curves=None)

    with pytest.raises(ValueError, match="has_curves=True"):
        gaps.gaps_data(without, lossy.scenario)
    with pytest.raises(ValueError, match="has_curves=True"):
        latency.latency_data(without)
