"""A start folded in one call of machine code has the figures that its rows have, going by."""

import dataclasses

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.engine import once
from radiosim.engine.jit import backend_for
from radiosim.engine.plan import make_plan
from radiosim.measure.start import tally_flow
from radiosim.scenario import Scenario
from radiosim.vehicle.feedback import flow
from radiosim.vehicle.vehicle import Vehicle
from tests.chunks import plain
from tests.engines.random_scenarios import loaded_scenarios, scenarios
from tests.examples import examples
from tests.traces import scenario_with

in_one_call = pytest.importorskip("radiosim.measure.in_one_call")
compiled_run = pytest.importorskip("radiosim.engine.fast.compiled_run")
head_of, world_of = compiled_run.head_of, compiled_run.world_of

HANGS = "fault=[{at_s=0.7, for_s=0.3, kind='hang', unit='receiver'}]"
AWKWARD = {
    "smoothed": ("output.track.smoothing_us_per_pass=1",),
    "interrupt": ("receiver.interrupt=true", "output.track.smoothing_us_per_pass=0.7"),
    "arrival": ("failsafe.drive.fed_at='arrival'", "receiver.loop_ms=9"),
    "watched": ("failsafe.drive.watch_field='count'", "failsafe.drive.fed_by='any'"),
    "all read": ("receiver.read='all'", "receiver.loop_ms=60"),
}


def told(scenario: Scenario, engine: str = "auto", *, is_new: bool = True) -> object:
    """All that is tallied of a start, but for the name of its engine."""
    passing = dataclasses.replace(flow(scenario, start=1, engine=engine), is_new=is_new)
    return plain(msgspec.structs.replace(tally_flow(passing), engine=""))


@given(scenarios)
@examples(200)
def test_a_start_in_one_call_is_that_of_its_rows(scenario: Scenario) -> None:
    # In the room of another start of the same scenario.
    tally_flow(flow(scenario))

    assert told(scenario) == told(scenario, is_new=False)


@pytest.mark.slow
@given(scenarios)
@examples(30)
def test_a_start_in_one_call_is_that_of_the_reference(scenario: Scenario) -> None:
    assert told(scenario) == told(scenario, "reference")


@pytest.mark.slow
@given(loaded_scenarios)
@examples(15)
def test_so_is_one_whose_outputs_bring_the_receiver_down(scenario: Scenario) -> None:
    assert told(scenario) == told(scenario, "reference")


OTHER = scenario_with(*AWKWARD["watched"])


def begun(scenario: Scenario, start: int) -> list[bytes]:
    """All that a start begins with, in memory: its units, then its folds."""
    plan = make_plan(scenario, start)
    backend = backend_for(plan, "fast")
    vehicle = Vehicle(scenario, plan, start, backend)
    outputs = vehicle.outputs.values()
    held = [head_of(world_of(plan)), vehicle.program.state, vehicle.program.points]
    held += [part for output in outputs for part in (output.state, output.parts, output.points)]
    return [part.tobytes() for part in held]


@given(scenarios, st.integers(1, 99))
@examples(30)
def test_a_start_begins_alike_whatever_was_simulated_before(scenario: Scenario, start: int) -> None:
    began = begun(scenario, 0), begun(OTHER, 0), begun(scenario, start)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(once, "_KEPT", {})
        patch.setattr(compiled_run, "_LAST", compiled_run._Last())
        alone = begun(scenario, start)

    assert began[2] == alone


@pytest.mark.parametrize("overrides", AWKWARD.values(), ids=AWKWARD)
def test_what_folds_must_hold_back_is_not_lost(overrides: tuple[str, ...]) -> None:
    scenario = scenario_with("duration_s=30", "air.loss=0.3", HANGS, *overrides)

    assert told(scenario) == told(scenario, is_new=False)


@pytest.mark.parametrize("overrides", AWKWARD.values(), ids=AWKWARD)
def test_with_little_room_it_is_the_same(
    overrides: tuple[str, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    scenario = scenario_with("duration_s=10", "air.loss=0.3", HANGS, *overrides)
    wanted = told(scenario, is_new=False)
    rooms = in_one_call._ROOMS
    for name, room in (("events", 160), ("rare", 160), ("entries", 7), ("effects", 5)):
        monkeypatch.setattr(rooms, name, getattr(rooms, name)[:room])

    assert told(scenario) == wanted


def test_a_pass_that_finds_no_room_is_folded_as_it_goes_by(monkeypatch: pytest.MonkeyPatch) -> None:
    scenario = scenario_with("duration_s=10", *AWKWARD["all read"])
    wanted = told(scenario, is_new=False)
    monkeypatch.setattr(in_one_call._ROOMS, "events", in_one_call._ROOMS.events[:100])
    given_up = []
    fold = in_one_call.Begun.fold
    monkeypatch.setattr(
        in_one_call.Begun, "fold", lambda begun: given_up.append(fold(begun)) or given_up[-1]
    )

    assert told(scenario) == wanted
    assert given_up == [False]
