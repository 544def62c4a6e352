"""What a tuning asks of a scene."""

import pytest

from radiosim.engine.simulate import flow
from radiosim.measure.start import tally_flow
from radiosim.scenario.shipped import shipped_scenes
from radiosim.study.tune.wanted import lean, with_requirements
from tests.study.tune.scenes import shipped, two


def test_a_scene_that_asks_for_nothing_is_asked_for_the_usual() -> None:
    scene, said = with_requirements(two())

    assert "stream.drive.hole_ms at most 250" in said
    assert "stream.look.hole_ms at most 200" in said
    assert len(scene.requirement) == len(said)


def test_a_stopping_time_is_left_to_the_drill() -> None:
    asked = "requirement=[{ figure = 'worst.drive.stop_ms', at_most = 500 }, %s]"
    hole = "{ figure = 'stream.drive.hole_ms', at_most = 90 }"
    scene, said = with_requirements(two(asked % hole))

    assert [it.figure for it in scene.requirement] == ["stream.drive.hole_ms"]
    assert said == ()


@pytest.mark.parametrize("name", [it.name for it in shipped_scenes()])
def test_a_lean_scene_has_the_same_streams(name: str) -> None:
    whole = shipped(name, "duration_s=5")
    kept, all_of_it = tally_flow(flow(lean(whole))), tally_flow(flow(whole))

    for stream, tally in all_of_it.streams.items():
        mine = kept.streams[stream]
        assert (mine.read, mine.hole_ns, mine.attempts) == (
            tally.read,
            tally.hole_ns,
            tally.attempts,
        )
        assert mine.failsafe == tally.failsafe
        assert (mine.latency.weights == tally.latency.weights).all()


def test_outputs_that_are_asked_about_stay() -> None:
    scene = shipped("culvert-crawler")

    assert set(lean(scene).output) == {"left_track", "pan"}
    assert set(lean(scene, "output.tilt.update_rate_hz").output) == {"left_track", "pan", "tilt"}
