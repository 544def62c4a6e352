from hypothesis import given, settings

from radiosim.engine.plan import make_plan
from radiosim.engine.simulate import simulate
from radiosim.scenario import Scenario
from radiosim.vehicle.pass_starts import pass_starts
from tests.engines.random_scenes import scenes
from tests.passes import all_pass_starts


@given(scenes)
@settings(max_examples=80)
def test_every_pass_that_outputs_count_is_listed(scene: Scenario) -> None:
    trace = simulate(scene)

    assert list(pass_starts(trace, make_plan(scene, 0))) == all_pass_starts(trace)
