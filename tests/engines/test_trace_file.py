"""Every trace that an engine makes is taken back."""

from pathlib import Path
from tempfile import TemporaryDirectory

from hypothesis import given

from radiosim.engine.simulate import simulate
from radiosim.scenario import Scenario
from radiosim.trace_file import load, save
from tests.engines.random_scenarios import scenarios
from tests.examples import examples


@given(scenarios)
@examples(60)
def test_a_trace_of_any_scenario_is_read_back(given: Scenario) -> None:
    trace = simulate(given)
    with TemporaryDirectory() as folder:
        path = Path(folder) / "run.trace"
        save(trace, path)

        assert len(load(path).frames) == len(trace.frames)
