"""What holds of the receiver's program on scenarios drawn at random."""

from itertools import pairwise

from hypothesis import given

from radiosim.engine.plan import make_plan
from radiosim.engine.simulate import simulate
from radiosim.scenario import Scenario
from radiosim.vehicle.fold.program_state import FAILSAFE, WRITTEN
from radiosim.vehicle.reaction_bound import soonest_over_ns
from radiosim.vehicle.vehicle import run_vehicle
from tests.engines.random_scenarios import scenarios
from tests.examples import examples
from tests.passes import all_pass_starts


@given(scenarios)
@examples(50)
def test_the_program_looks_and_writes_only_at_the_start_of_a_pass(given: Scenario) -> None:
    trace, plan = simulate(given), make_plan(given, 0)
    starts = all_pass_starts(trace)

    acts = {
        event.at_ns
        for record in run_vehicle(trace).streams
        for event in record.events
        if event.kind in (WRITTEN, FAILSAFE)
    }

    assert acts <= set(starts)
    assert all(a < b for a, b in pairwise(starts))
    if not plan.rx.interrupt:
        assert set(trace.passes["start_ns"].tolist()) <= set(starts)


@given(scenarios)
@examples(100)
def test_failsafe_comes_on_only_after_its_timeout(given: Scenario) -> None:
    trace, plan = simulate(given), make_plan(given, 0)

    for name, record in zip(plan.streams, run_vehicle(trace).streams, strict=True):
        times = [event.at_ns for event in record.events]
        assert times == sorted(times)
        for entry in record.entries:
            timer = given.failsafe[name]
            timeout_ns = soonest_over_ns(given, timer, plan.rx.ppb)
            assert entry.at_ns - entry.fed_ns > timeout_ns - 1
        assert 0 <= record.on_ns <= trace.duration_ns
