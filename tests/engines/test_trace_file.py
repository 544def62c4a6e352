"""Every trace that an engine makes is taken back."""

from pathlib import Path
from tempfile import TemporaryDirectory

from hypothesis import given

from radiosim.engine.simulate import simulate
from radiosim.scenario import Scenario
from radiosim.trace_file import load, save
from tests.engines.random_scenes import scenes
from tests.examples import examples


@given(scenes)
@examples(60)
def test_a_trace_of_any_scene_is_read_back(scene: Scenario) -> None:
    trace = simulate(scene)
    with TemporaryDirectory() as folder:
        path = Path(folder) / "run.trace"
        save(trace, path)

        assert len(load(path).frames) == len(trace.frames)
