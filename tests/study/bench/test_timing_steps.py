"""Steps in closed form, against runs and against worked figures."""

from collections.abc import Iterator

import msgspec
import numpy as np
import pytest

from radiosim.engine.plan import make_plan
from radiosim.engine.simulate import simulate
from radiosim.scenario import Scenario, load
from radiosim.scenario.shipped import shipped_scenario, shipped_scenarios
from radiosim.scenario.structs.failsafe_and_fault import Fault
from radiosim.study.bench.step import Prediction
from radiosim.study.bench.timing_steps import cycle_ns, retries_used_up_ns, timing_chapter
from radiosim.trace import ACKNOWLEDGED, RETRIES_USED_UP, SENT, Trace

TRANSMITTERS = [
    (shipped_one.name, name)
    for shipped_one in shipped_scenarios()
    for name in load(shipped_one.path).transmitter
]


def shipped(name: str) -> Scenario:
    given = shipped_scenario(name)
    assert given is not None
    return load(given.path)


def alone(scenario: Scenario, name: str, *, also_off: tuple[str, ...] = ()) -> Trace:
    """One transmitter, the others switched off at once."""
    others = [other for other in scenario.transmitter if other != name]
    faults = tuple(
        Fault(at_s=0.0, kind="power_off", unit=unit, for_s=None) for unit in (*others, *also_off)
    )
    changed = msgspec.structs.replace(scenario, fault=faults, requirement=(), duration_s=10.0)
    return simulate(changed, start=1)


def spans_ns(trace: Trace, number: int, outcomes: tuple[int, ...], attempts: int) -> set[int]:
    """From the first attempt's start to the frame's end, of frames with as many attempts."""
    rows = trace.attempts
    first = rows[(rows["stream"] == number) & (rows["attempt"] == 1)]
    starts = {int(row["frame"]): int(row["start_ns"]) for row in first}
    return {
        int(row["done_ns"]) - starts[int(row["frame"])]
        for row in trace.frames
        if row["stream"] == number and row["attempts"] == attempts and row["outcome"] in outcomes
    }


@pytest.mark.parametrize(("given", "name"), TRANSMITTERS)
def test_a_frame_takes_as_long_as_it_does_in_a_run(given: str, name: str) -> None:
    scenario = shipped(given)
    number = list(scenario.transmitter).index(name)
    tx = make_plan(scenario, 1).tx[number]
    spans = spans_ns(alone(scenario, name), number, (ACKNOWLEDGED, SENT), 1)

    # The radio settles before the first bit; a plain frame is done as it ends (rule B2), and the
    # line that says so follows.
    line_ns = 0 if scenario.transmitter[name].acknowledge is True else tx.interrupt_ns
    assert {span + tx.settle_ns + line_ns for span in spans} == {cycle_ns(tx)}


@pytest.mark.parametrize(("given", "name"), TRANSMITTERS)
def test_a_frame_that_nobody_acknowledges_is_given_up_as_predicted(given: str, name: str) -> None:
    scenario = shipped(given)
    if scenario.transmitter[name].acknowledge is not True:
        pytest.skip("a plain frame is never given up")
    number = list(scenario.transmitter).index(name)
    tx = make_plan(scenario, 1).tx[number]
    trace = alone(scenario, name, also_off=("receiver",))
    spans = spans_ns(trace, number, (RETRIES_USED_UP,), 1 + tx.retry_limit)

    assert {span + tx.settle_ns for span in spans} == {retries_used_up_ns(tx)}


def predicted(scenario: Scenario, key: str) -> Iterator[Prediction]:
    for step in timing_chapter(scenario, make_plan(scenario, 0)).steps:
        for case in step.cases:
            if case.key == key:
                yield from case.predicted


@pytest.mark.parametrize(("given", "name"), TRANSMITTERS)
@pytest.mark.parametrize("dither_ms", [0.0, 4.0])
def test_samples_come_as_far_apart_as_predicted(given: str, name: str, dither_ms: float) -> None:
    scenario = shipped(given)
    if dither_ms:
        if scenario.transmitter[name].pacing != "timer" or given != "twin-clocks":
            pytest.skip("only a timer dithers; one scenario will do")
        scenario = scenario.replace(**{f"transmitter.{name}.dither_ms": dither_ms})
    # Without retries, which stretch the period of a program that waits for its radio.
    air = msgspec.structs.replace(scenario.air, loss=0.0, acknowledge_loss=0.0)
    calm = msgspec.structs.replace(scenario, air=air)
    if scenario.air.range is not None and scenario.transmitter[name].pacing != "timer":
        pytest.skip("retries at a distance stretch its period")
    trace = alone(calm, name)
    number = list(scenario.transmitter).index(name)
    apart_ms = np.diff(trace.frames[trace.frames["stream"] == number]["sampled_ns"]) / 1e6
    ranges = {prediction.what: prediction for prediction in predicted(scenario, f"period.{name}")}
    single = ranges["any single one"]

    assert single.low is not None
    assert single.high is not None
    assert single.low <= apart_ms.min() <= apart_ms.max() <= single.high
    # Below twice its least width a predicted says something.
    assert single.high - single.low < 0.5 * apart_ms.mean()
    if "mean of many" in ranges:
        mean = ranges["mean of many"]
        assert mean.low is not None
        assert mean.high is not None
        slack = scenario.transmitter[name].jitter_ms / len(apart_ms)
        assert mean.low - slack <= apart_ms.mean() <= mean.high + slack


@pytest.mark.parametrize(
    ("profile", "cycle_us"),
    # Source: PS (see radiosim/facts.md, 1, worked): 32 bytes, and 8 MHz for their upload, without
    # the command byte before them.
    [("gfsk-1M", 702.2), ("gfsk-2M", 499.0)],
)
def test_a_whole_cycle_is_that_of_the_data_sheet(profile: str, cycle_us: float) -> None:
    given = shipped_scenario("smallest")
    assert given is not None
    scenario = load(
        given.path,
        (
            f"radio.profile={profile}",
            "transmitter.drive.payload_bytes=32",
        ),
    )
    tx = make_plan(scenario, 0).tx[0]

    assert 32 * 8 / 8 + cycle_ns(tx) / 1000 == pytest.approx(cycle_us, abs=0.05)
