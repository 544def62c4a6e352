"""A start measured as its rows go by: however they are cut, and in memory that stays small."""

import gc
import math
import tracemalloc
from pathlib import Path

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.engine.jit import JitBackend
from radiosim.engine.plan import make_plan
from radiosim.engine.plan_rows import ACKNOWLEDGING, PLAIN, Tx
from radiosim.engine.rules.timing import ELAPSED
from radiosim.engine.simulate import flow, simulate
from radiosim.engine.stratification import distance_from_multiple, period_of, window_ns
from radiosim.engine.unit_spans import shared_ns
from radiosim.measure import start as measured
from radiosim.measure.start import expected_beats, seen_beats, tally_flow, tally_start
from radiosim.scenario import Scenario, load
from radiosim.units import NS_PER_MS, NS_PER_S
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
        patch.setattr(measured, "backend_for", lambda plan, engine: JitBackend(None))
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
    # What comparing bytes leaves behind is little, but waits for its collection.
    seldom = gc.get_threshold()
    gc.set_threshold(100)
    tracemalloc.start()
    tally_flow(passing)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    gc.set_threshold(*seldom)
    return peak


@pytest.mark.parametrize(
    "path",
    [
        # It takes ten times as long as the others.
        pytest.param(path, marks=pytest.mark.slow) if path.stem == "slow-loop" else path
        for path in SHIPPED
    ],
    ids=[path.stem for path in SHIPPED],
)
def test_ten_times_the_time_takes_no_more_memory(path: Path) -> None:
    scenario = load(path)
    # Whatever is made once is made, be it after many frames.
    peak_bytes(scenario, 1_000)

    assert peak_bytes(scenario, 1_000) < 1.1 * peak_bytes(scenario, 100)


@pytest.mark.parametrize("overrides", AWKWARD.values(), ids=AWKWARD)
def test_what_is_held_back_does_not_pile_up(overrides: tuple[str, ...]) -> None:
    # From one second on nothing of the first stream arrives: its outputs wait for ever.
    silent = "fault=[{at_s=1.0, kind='power_off', unit='drive'}]"
    scenario = scenario_with(silent, *overrides)
    peak_bytes(scenario, 1_000)

    assert peak_bytes(scenario, 1_000) < 1.1 * peak_bytes(scenario, 100)


TX = make_plan(scenario_with(), 0).tx[0]._replace(acknowledge=PLAIN, frame_ns=164_500, ppb=0)
SECOND = TX._replace(ppb=120_000)


def test_the_worked_example_meets_every_167_seconds() -> None:
    # Facts derived for plain streams on timers: 20 ms, 120 ppm apart, a + b = 329 us.
    met = expected_beats(TX, SECOND, 1_000 * NS_PER_S)

    assert met == pytest.approx(0.329 / 20 + 1_000 / 166.7, rel=1e-3)


def test_equal_clocks_never_drift_into_each_other() -> None:
    assert expected_beats(TX, TX, 10**6 * NS_PER_S) == pytest.approx(329 / 20_000)


def test_periods_near_a_whole_multiple_meet_as_equal_ones_do() -> None:
    double = SECOND._replace(period_ns=40 * NS_PER_MS)

    met = expected_beats(TX, double, 1_000 * NS_PER_S)

    # 40 ms slips 4.8 us a period against the grid of 20 ms.
    assert met == pytest.approx(0.329 / 20 + 1_000 / (20e-3 * 40e-3 / 4.8e-6), rel=1e-3)


def test_periods_far_from_a_multiple_meet_all_the_time() -> None:
    assert expected_beats(TX, TX._replace(period_ns=17 * NS_PER_MS), NS_PER_S) == math.inf


@pytest.mark.parametrize(
    "other", [SECOND._replace(pacing=ELAPSED), SECOND._replace(jitter_ns=10 * NS_PER_MS)]
)
def test_a_scattered_phase_counts_as_seen(other: Tx) -> None:
    assert expected_beats(TX, other, NS_PER_S) == math.inf
    assert expected_beats(other, TX, NS_PER_S) == math.inf


def test_a_receiver_that_acknowledgements_is_deaf_for_longer() -> None:
    acknowledged = TX._replace(acknowledge=ACKNOWLEDGING, settle_ns=130_000, ack_ns=73_000)

    assert window_ns(TX, TX) == 329_000
    assert window_ns(TX, acknowledged) == window_ns(acknowledged, TX) == 329_000 + 260_000 + 73_000


def test_a_period_is_that_of_its_own_clock() -> None:
    assert period_of(SECOND) == 20 * NS_PER_MS * 1_000_000 + 2_400 * 1_000_000


@given(st.floats(1, 1e6), st.floats(1, 1e6))
def test_no_period_is_further_from_a_multiple_than_half(a: float, b: float) -> None:
    long, short = max(a, b), min(a, b)

    distance = distance_from_multiple(long, short)

    assert 0 <= distance <= short / 2 * (1 + 1e-9) + 1e-9
    assert distance <= abs(long - short) + 1e-9


def test_one_transmitter_meets_nobody() -> None:
    plan = make_plan(scenario_with(), 0)

    assert seen_beats(msgspec.structs.replace(plan, tx=plan.tx[:1])) == ()


def test_each_pair_has_its_own_meetings() -> None:
    plan = make_plan(scenario_with("transmitter.head.clock_ppm=0.5"), 1)
    expected = expected_beats(plan.tx[0], plan.tx[1], plan.until_ns)

    assert seen_beats(plan) == (expected,)
    assert expected < 0.1


def test_a_start_that_was_made_to_meet_has_seen_one() -> None:
    drawn = "transmitter.head.offset_ms='drawn'"
    plan = make_plan(scenario_with(drawn, "transmitter.head.clock_ppm=0.5"), 0)

    assert plan.phases.made_for == (0, 1)
    assert seen_beats(plan) == (1.0,)


def test_only_time_that_both_transmitters_run_can_show_a_meeting() -> None:
    late = make_plan(scenario_with("duration_s=10", "transmitter.head.start_s=7"), 0)
    hung = make_plan(
        scenario_with("duration_s=10", "fault=[{at_s=4, for_s=5, kind='hang', unit='drive'}]"), 0
    )

    assert shared_ns(late.steps, 0, 1, late.until_ns) == 3_000_000_000
    assert shared_ns(hung.steps, 0, 1, hung.until_ns) == 5_000_000_000
