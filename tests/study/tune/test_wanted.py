"""What a tuning asks of a scenario."""

import pytest

from radiosim.engine.simulate import flow
from radiosim.measure.start import tally_flow
from radiosim.scenario.shipped import shipped_scenarios
from radiosim.study.tune.wanted import lean, with_requirements
from tests.study.tune.scenarios import shipped, two


def test_a_scenario_that_asks_for_nothing_is_asked_for_the_usual() -> None:
    given, said = with_requirements(two())

    assert "stream.drive.gap_ms.max at most 250" in said
    assert "stream.head.gap_ms.max at most 200" in said
    assert len(given.requirement) == len(said)


def test_a_stopping_time_is_left_to_the_drill() -> None:
    asked = "requirement=[{ figure = 'worst.drive.reaction_ms', at_most = 500 }, %s]"
    hole = "{ figure = 'stream.drive.gap_ms.max', at_most = 90 }"
    given, said = with_requirements(two(asked % hole))

    assert [it.figure for it in given.requirement] == ["stream.drive.gap_ms.max"]
    assert said == ()


@pytest.mark.parametrize("name", [it.name for it in shipped_scenarios()])
def test_a_lean_scenario_has_the_same_streams(name: str) -> None:
    whole = shipped(name, "duration_s=5")
    kept, all_of_it = tally_flow(flow(lean(whole))), tally_flow(flow(whole))

    for stream, tally in all_of_it.streams.items():
        mine = kept.streams[stream]
        assert (mine.read, mine.longest_gap_ns, mine.attempts) == (
            tally.read,
            tally.longest_gap_ns,
            tally.attempts,
        )
        assert mine.failsafe == tally.failsafe
        assert (mine.latency.weights == tally.latency.weights).all()


def test_outputs_that_are_asked_about_stay() -> None:
    given = shipped("culvert-crawler")

    assert set(lean(given).output) == {"left_track", "pan"}
    assert set(lean(given, "output.tilt.update_rate_hz").output) == {"left_track", "pan", "tilt"}
