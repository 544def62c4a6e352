"""A start measured as its rows go by: however they are cut, and in memory that stays small."""

import tracemalloc
from pathlib import Path

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.engine.machine import Machine
from radiosim.engine.simulate import flow, simulate
from radiosim.measure import start as measured
from radiosim.measure.start import tally_flow, tally_start
from radiosim.scenario import Scenario, load
from tests.chunks import cut, one_by_one, plain
from tests.engines.random_scenarios import scenarios
from tests.examples import examples
from tests.traces import scenario_with

SHIPPED = sorted((Path(__file__).parents[2] / "scenarios").glob("*.toml"))
AWKWARD = {
    "smoothed": ("output.track.smoothing_us_per_pass=1",),
    "interrupt": ("receiver.interrupt=true", "output.track.smoothing_us_per_pass=0.7"),
    "arrival": ("failsafe.drive.fed_at='arrival'", "receiver.loop_ms=9"),
    "watched": ("failsafe.drive.watch_field='count'", "failsafe.drive.fed_by='any'"),
}
shares = st.lists(st.floats(0, 1), max_size=12)


@given(scenarios, shares)
@examples(300)
def test_figures_do_not_depend_on_how_rows_are_cut(scenario: Scenario, at: list[float]) -> None:
    trace = simulate(scenario)

    assert plain(tally_flow(cut(trace, at))) == plain(tally_start(trace))


@given(scenarios)
@examples(40)
def test_rows_may_come_one_by_one(scenario: Scenario) -> None:
    trace = simulate(scenario)

    assert plain(tally_flow(one_by_one(trace))) == plain(tally_start(trace))


@given(scenarios)
@examples(60)
def test_folds_give_the_same_figures_compiled_or_not(scenario: Scenario) -> None:
    trace = simulate(scenario)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(measured, "machine_for", lambda plan: Machine(None))
        uncompiled = plain(tally_start(trace))

    assert uncompiled == plain(tally_start(trace))


def whole_length(path: Path) -> Scenario:
    """A shipped scenario, long enough for its faults."""
    scenario = load(path)
    last_s = max((fault.at_s + (fault.for_s or 0) for fault in scenario.fault), default=0.0)
    return msgspec.structs.replace(scenario, duration_s=min(scenario.duration_s, last_s + 40))


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_a_shipped_scenario_has_the_figures_of_its_trace(path: Path) -> None:
    scenario = whole_length(path)
    trace = simulate(scenario, start=3)
    kept = plain(tally_start(trace))

    assert plain(tally_flow(flow(scenario, start=3))) == kept
    assert plain(tally_flow(cut(trace, [0.1, 0.1003, 0.45, 0.9]))) == kept


@pytest.mark.parametrize("overrides", AWKWARD.values(), ids=AWKWARD)
def test_what_folds_must_hold_back_is_not_lost(overrides: tuple[str, ...]) -> None:
    hang = "fault=[{at_s=0.7, for_s=0.3, kind='hang', unit='receiver'}]"
    trace = simulate(scenario_with("air.loss=0.3", hang, *overrides))

    assert plain(tally_flow(one_by_one(trace))) == plain(tally_start(trace))


def peak_bytes(scenario: Scenario, duration_s: float) -> int:
    """The most memory that a start of this length takes."""
    passing = flow(msgspec.structs.replace(scenario, duration_s=duration_s))
    tracemalloc.start()
    tally_flow(passing)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return peak


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_ten_times_the_time_takes_no_more_memory(path: Path) -> None:
    scenario = load(path)
    # Whatever is made once is made.
    peak_bytes(scenario, 10)

    assert peak_bytes(scenario, 2_000) < 1.1 * peak_bytes(scenario, 200)


@pytest.mark.parametrize("overrides", AWKWARD.values(), ids=AWKWARD)
def test_what_is_held_back_does_not_pile_up(overrides: tuple[str, ...]) -> None:
    # From one second on nothing of the first stream arrives: its outputs wait for ever.
    silent = "fault=[{at_s=1.0, kind='power_off', unit='drive'}]"
    scenario = scenario_with(silent, *overrides)
    peak_bytes(scenario, 10)

    assert peak_bytes(scenario, 2_000) < 1.1 * peak_bytes(scenario, 200)
