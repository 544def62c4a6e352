"""Bands of outputs hold what is measured at them in other starts, frames lost and all."""

import msgspec
import numpy as np
import pytest

from radiosim.engine.simulate import simulate
from radiosim.scenario import Scenario, load
from radiosim.scenario.shipped import shipped_scenario
from radiosim.study.bench.counted_steps import calm, counted, counted_chapter, ordinary
from radiosim.study.bench.sheet import without_needs
from radiosim.study.bench.step import Prediction
from radiosim.trace import READ
from radiosim.vehicle.vehicle import run_vehicle

STARTS, MINUTES = 39, 10.0
FROM_NS, UNTIL_NS = 2_000_000_000, 90_000_000_000


def scenario(*overrides: str) -> Scenario:
    given = shipped_scenario("slow-loop")
    assert given is not None
    return without_needs(load(given.path, overrides))


@pytest.fixture(scope="module")
def ranges() -> dict[str, Prediction]:
    given = calm(scenario(), MINUTES)
    counts = [counted(given, "auto", ordinary(number)) for number in range(STARTS)]
    step = counted_chapter(given, counts).steps[1]
    return {prediction.what: prediction for prediction in step.cases[0].predicted}


def share_inside(predicted: Prediction, values: list[float]) -> float:
    assert predicted.low is not None
    assert predicted.high is not None
    return float(
        np.mean((np.array(values) >= predicted.low) & (np.array(values) <= predicted.high))
    )


@pytest.mark.slow
def test_the_mean_of_a_thousand_changes_falls_into_its_range(ranges: dict[str, Prediction]) -> None:
    given = msgspec.structs.replace(scenario("seed=99"), duration_s=92.0)
    means = []
    for start in range(1, 31):
        effects = run_vehicle(simulate(given, start=start)).outputs["steering"].effects
        fresh_ns = effects["end_ns"][(effects["is_fresh"] == 1) & (effects["end_ns"] > FROM_NS)]
        means.append((fresh_ns[1000] - fresh_ns[0]) / 1e9)

    # Each is inside with 95 %: that fewer than 22 of 30 are has a chance below 1 in 10,000.
    assert share_inside(ranges["mean gap"], means) >= 22 / 30


@pytest.mark.slow
def test_a_jump_whose_frame_is_lost_shows_with_the_next(ranges: dict[str, Prediction]) -> None:
    given = msgspec.structs.replace(scenario("seed=99"), duration_s=92.0)
    shown_ms, lost_ms = [], []
    for start in range(1, 31):
        trace = simulate(given, start=start)
        effects = run_vehicle(trace).outputs["steering"].effects
        fresh = effects[(effects["is_fresh"] == 1) & (effects["end_ns"] > FROM_NS)]
        sampled_ns = np.unique(trace.frames["sampled_ns"][trace.frames["stream"] == 0])
        for jump in sampled_ns[(sampled_ns > FROM_NS) & (sampled_ns < UNTIL_NS)][::50]:
            first = fresh[fresh["sampled_ns"] >= jump][0]
            after_ms = (first["end_ns"] - jump) / 1e6
            (shown_ms if first["sampled_ns"] == jump else lost_ms).append(after_ms)

    # Half of the frames are lost; 95 % of all jumps, less what starts differ.
    assert len(lost_ms) > 0.4 * len(shown_ms)
    assert share_inside(ranges["latency"], [*shown_ms, *lost_ms]) >= 0.9


def test_counts_are_of_starts_whose_phases_are_drawn_as_ever() -> None:
    assert [ordinary(number) for number in range(7)] == [1, 2, 4, 5, 7, 8, 10]


def test_frames_missing_are_those_that_the_counter_jumps_over() -> None:
    given = calm(scenario("air.loss=0.3", "seed=5"), 0.1)
    found = counted(given, "auto", 1).streams
    trace = simulate(given, start=1)
    from_ns = trace.duration_ns - 6_000_000_000

    for number, count in enumerate(found.values()):
        assert count is not None
        reads = trace.reads[(trace.reads["stream"] == number) & (trace.reads["outcome"] == READ)]
        frames = set(reads["frame"][reads["read_ns"] >= from_ns].tolist())
        gone = set(range(min(frames), max(frames))) - frames
        assert count.missing == len(gone) > 0
        assert count.jumps == sum(frame + 1 in frames for frame in gone)
