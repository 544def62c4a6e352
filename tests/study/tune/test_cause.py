"""Why a point misses a requirement."""

import pytest

from radiosim.engine.simulate import flow
from radiosim.measure.start import tally_flow
from radiosim.scenario import Scenario
from radiosim.study.tune.cause import (
    BUSY,
    CHANCE,
    COLLISION,
    DEAF,
    FULL,
    RANGE,
    SLOW,
    UNNOTICED,
    cause_of,
)
from tests.study.tune.scenarios import shipped, two

FAR = "air.range={distance_m=5000, path='free-space'}"


def cause(given: Scenario, figure: str = "stream.drive.gap_ms.max") -> str:
    outputs = {name: it.stream for name, it in given.output.items()}
    return cause_of(figure, tally_flow(flow(given)).streams, outputs)


@pytest.mark.parametrize(
    ("scenario", "expected"),
    [
        (two(), SLOW),
        (two("air.loss=0.3"), CHANCE),
        (two("transmitter.head.period_ms=2"), DEAF),
        (shipped("twin-clocks", "duration_s=60"), COLLISION),
        (two("receiver.read='one'", "receiver.loop_ms=40"), FULL),
        (two("transmitter.drive.period_ms=0.4"), BUSY),
        (two(FAR), RANGE),
    ],
)
def test_what_takes_most_frames_is_named(given: Scenario, expected: str) -> None:
    assert cause(given) == expected


def test_a_fault_that_no_timer_saw_is_not_blamed_on_the_air() -> None:
    assert cause(two("air.loss=0.3"), "stream.drive.failsafe.trips_on_fault") == UNNOTICED


def test_an_outputs_figure_is_about_its_stream() -> None:
    given = two("transmitter.drive.period_ms=0.4")

    assert cause(given, "output.drive.latency_ms.p99") == BUSY
    assert cause(given, "output.head.latency_ms.p99") != BUSY
