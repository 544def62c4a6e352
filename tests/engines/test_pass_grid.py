"""The folds find the passes that the engine made, idle ones included."""

import pytest
from hypothesis import given

from radiosim.engine.plan import make_plan
from radiosim.engine.reference.receiver_program import ReceiverProgram
from radiosim.engine.reference.world import World
from radiosim.engine.simulate import simulate
from radiosim.scenario import Scenario
from tests.engine.reference.hand_made import FLAG
from tests.engine.reference.hand_made import scenario_with as round_scenario
from tests.engines.random_scenarios import scenarios
from tests.examples import examples
from tests.passes import all_pass_starts


def engine_passes(given: Scenario) -> list[int]:
    """Start of every pass that a polling program makes."""
    starts: list[int] = []
    made = ReceiverProgram.passes

    def logged(program: ReceiverProgram, taken: int) -> None:
        starts.append(program.world.env.now)
        made(program, taken)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(ReceiverProgram, "passes", logged)
        world = World(make_plan(given, 0), True)
        world.env.run(until=world.plan.until_ns)
    return starts


@given(scenarios.filter(lambda given: not given.receiver.interrupt))
@examples(150)
def test_every_pass_of_the_engine_is_a_pass_of_the_folds(given: Scenario) -> None:
    folded = all_pass_starts(simulate(given))

    assert folded == engine_passes(given)


@pytest.mark.parametrize(
    ("fault", "passes_us"),
    [
        # The read of 410 makes its pass 100 longer; from 3350 to 5550 the program stands still.
        (
            {"kind": "hang", "at_s": 0.00335, "for_s": 0.0022},
            [100, 1100, 2200, 3200, 6400, 7400, 8400],
        ),
        ({"kind": "hang", "at_s": 0.00335}, [100, 1100, 2200, 3200]),
        (
            {"kind": "reset", "at_s": 0.00335},
            [100, 1100, 2200, 3200, 3350, 4350, 5350, 6350, 7350, 8350],
        ),
        # At the instant of a pass the fault comes first.
        ({"kind": "hang", "at_s": 0.0032, "for_s": 0.005}, [100, 1100, 2200, 8200]),
    ],
)
def test_idle_passes_after_a_fault_are_where_the_fault_leaves_them(
    fault: dict[str, str | float], passes_us: list[int]
) -> None:
    transmitter = FLAG | {"period_ms": 50}
    given = round_scenario({"a": transmitter}, ms=9, fault=[fault | {"unit": "receiver"}])

    folded = all_pass_starts(simulate(given))

    assert folded == engine_passes(given) == [at_us * 1000 for at_us in passes_us]
