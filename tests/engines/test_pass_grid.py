"""The folds find the passes that the engine made, idle ones included."""

import pytest
from hypothesis import given, settings

from radiosim.engine.plan import make_plan
from radiosim.engine.reference.receiver_program import ReceiverProgram
from radiosim.engine.reference.world import World
from radiosim.engine.simulate import simulate
from radiosim.scenario import Scenario
from radiosim.vehicle.smoothing import all_pass_starts
from tests.engines.random_scenes import scenes


def engine_passes(scene: Scenario) -> list[int]:
    """Start of every pass that a polling program makes."""
    starts: list[int] = []
    made = ReceiverProgram.passes

    def logged(program: ReceiverProgram, taken: int) -> None:
        starts.append(program.world.env.now)
        made(program, taken)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(ReceiverProgram, "passes", logged)
        world = World(make_plan(scene, 0), True)
        world.env.run(until=world.plan.until_ns)
    return starts


@given(scenes.filter(lambda scene: not scene.receiver.interrupt))
@settings(max_examples=150)
def test_every_pass_of_the_engine_is_a_pass_of_the_folds(scene: Scenario) -> None:
    folded = all_pass_starts(simulate(scene), make_plan(scene, 0)).tolist()

    assert folded == engine_passes(scene)
