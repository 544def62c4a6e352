"""The compiled engine and the reference give one trace, to the last nanosecond."""

from pathlib import Path
from unittest.mock import patch

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.chance import BRANCH_BITS
from radiosim.engine import fast, reference
from radiosim.engine.plan import Plan, make_plan, with_brownouts
from radiosim.engine.plan_rows import NOISE_PASSES, Step
from radiosim.scenario import Scenario, load
from radiosim.trace import FIRST_NOISE, ROWS
from radiosim.vehicle import feedback
from radiosim.vehicle.feedback import brownouts_of
from tests.engines.random_scenarios import loaded_scenarios, scenarios
from tests.examples import examples

SHIPPED = sorted((Path(__file__).parents[2] / "scenarios").glob("*.toml"))


def assert_one_trace(plan: Plan) -> None:
    compiled, read = fast.run(plan), reference.run(plan)
    for name in ROWS:
        assert compiled[name].tolist() == read[name].tolist(), name


@given(scenarios)
@examples(1000)
def test_random_scenarios_give_one_trace(given: Scenario) -> None:
    assert_one_trace(make_plan(given, 0))


@st.composite
def noise(draw: st.DrawFn, plan: Plan) -> list[Step]:
    """Noise that passes for frames far more often than it does, at instants that meet others."""
    streams = [i for i, tx in enumerate(plan.tx) if tx.address_of == i]
    instants = st.one_of(
        st.integers(0, plan.until_ns - 1),
        st.integers(0, (plan.until_ns - 1) // 125_000).map(lambda tick: tick * 125_000),
    )
    return [
        Step(at_ns, len(plan.tx), NOISE_PASSES, stream, FIRST_NOISE - number, asks)
        for number, (at_ns, stream, asks) in enumerate(
            draw(st.lists(st.tuples(instants, st.sampled_from(streams), st.integers(0, 1))))
        )
    ]


@given(scenarios, st.data())
@examples(400)
def test_noise_that_passes_for_frames_is_one_trace_too(
    given: Scenario, data: st.DataObject
) -> None:
    plan = make_plan(given, 0)
    steps = (*plan.steps, *data.draw(noise(plan)))
    order = sorted(steps, key=lambda step: (step.at_ns, step.unit))

    assert_one_trace(msgspec.structs.replace(plan, steps=tuple(order)))


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
@pytest.mark.parametrize("start", [0, 7])
def test_every_shipped_scenario_gives_one_trace(path: Path, start: int) -> None:
    given = load(path)
    # Long enough for the faults of every scenario to have begun and ended.
    last_s = max((fault.at_s + (fault.for_s or 0) for fault in given.fault), default=0.0)
    duration_s = min(given.duration_s, last_s + 10)

    assert_one_trace(make_plan(msgspec.structs.replace(given, duration_s=duration_s), start))


def assert_same_brownouts(given: Scenario) -> None:
    found = brownouts_of(given, 0, "fast")

    assert found == brownouts_of(given, 0, "reference")
    # Of however many moments a run can go back to.
    with (
        patch.object(feedback, "_WINDOW_NS", 7_000_000),
        patch.object(feedback, "_MOST_MOMENTS", 5),
    ):
        assert found == brownouts_of(given, 0, "fast")
    assert_one_trace(with_brownouts(given, make_plan(given, 0), found))


@given(loaded_scenarios)
@examples(30)
def test_what_outputs_draw_brings_the_receiver_down_at_the_same_instants(given: Scenario) -> None:
    assert_same_brownouts(given)


@pytest.mark.slow
@given(loaded_scenarios)
@examples(50)
def test_it_does_so_in_many_scenarios(given: Scenario) -> None:
    assert_same_brownouts(given)


@given(scenarios, st.integers(1, 2**BRANCH_BITS - 1))
@examples(50)
def test_another_future_is_one_trace_too(given: Scenario, branch: int) -> None:
    plan = make_plan(given, 0)
    tx = tuple(unit._replace(branch=branch) for unit in plan.tx)

    assert_one_trace(msgspec.structs.replace(plan, tx=tx))


@pytest.mark.slow
def test_a_deep_fifo_and_many_works_run_compiled_too() -> None:
    given = load(SHIPPED[0], ["radio.fifo_frames=40", "receiver.loop_ms=300", "duration_s=3"])
    works = [{"every_ms": 50 + n, "takes_ms": 0.5} for n in range(9)]
    receiver = msgspec.convert(
        msgspec.to_builtins(given.receiver) | {"work": works}, type(given.receiver)
    )
    plan = make_plan(msgspec.structs.replace(given, receiver=receiver), 0)

    assert fast.can_run(plan)
    assert_one_trace(plan)


def test_chunks_put_together_are_the_trace() -> None:
    plan = make_plan(load(SHIPPED[0], ["duration_s=60"]), 0)
    counts = dict.fromkeys(ROWS, 0)
    for chunk in fast.chunks(plan):
        for name, rows in chunk.items():
            counts[name] += len(rows)

    assert counts == {name: len(table) for name, table in fast.run(plan).items()}
