""""""

from hypothesis import given
from hypothesis import strategies as st

from radiosim.engine.plan import make_plan
from radiosim.engine.simulate import simulate
from radiosim.scenario import Scenario
from radiosim.vehicle.vehicle import pass_starts
from tests.engines.random_scenarios import scenarios
from tests.examples import examples
from tests.passes import all_pass_starts


@given(scenarios)
@examples(80)
def test_every_pass_that_outputs_count_is_listed(given: Scenario) -> None:
    trace = simulate(given)

    assert list(pass_starts(trace, make_plan(given, 0))) == all_pass_starts(trace)


@given(scenarios, st.floats(0, 1), st.floats(0, 0.3))
@examples(80)
def test_a_part_of_a_start_has_the_passes_that_begin_in_it(
    given: Scenario, begin: float, length: float
) -> None:
    trace = simulate(given)
    plan = make_plan(given, 0)
    from_ns = round(begin * plan.until_ns)
    until_ns = from_ns + round(length * plan.until_ns)

    part = pass_starts(trace, plan, from_ns=from_ns, until_ns=until_ns)

    assert part == tuple(at for at in pass_starts(trace, plan) if from_ns <= at < until_ns)
