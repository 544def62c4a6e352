"""Laws that hold for every scenario, on scenarios drawn at random."""

import tempfile
from pathlib import Path

import numpy as np
from hypothesis import given

from radiosim import trace_file
from radiosim.engine.plan import make_plan
from radiosim.engine.reference import run
from radiosim.measure import summarise
from radiosim.measure.start import tally_start
from radiosim.scenario import Scenario
from radiosim.trace import FIRST_NOISE, FULL, KEPT, NEW, ROWS, Trace
from radiosim.vehicle.feedback import simulate
from radiosim.vehicle.vehicle import run_vehicle
from tests.engines.random_scenarios import scenarios
from tests.examples import examples

ENDS = {
    "attempts": "end_ns",
    "acknowledgements": "end_ns",
    "frames": "done_ns",
    "reads": "read_ns",
    "passes": "start_ns",
}


def tables_of(trace: Trace) -> dict[str, bytes]:
    return {name: getattr(trace, name).tobytes() for name in ROWS}


@given(scenarios)
@examples(150)
def test_every_sampled_frame_ends_in_exactly_one_place(given: Scenario) -> None:
    trace = simulate(given)

    final = trace.frames[trace.frames["outcome"] != KEPT]
    for stream, found in enumerate(tally_start(trace).streams.values()):
        mine = np.sort(final[final["stream"] == stream]["frame"])
        assert mine.tolist() == list(range(len(mine)))
        assert found.sampled == len(mine)
        assert min(found.never_accepted, found.under_way) >= 0
    assert (trace.attempts["fate"] == NEW).sum() == (trace.reads["frame"] > FIRST_NOISE).sum()


@given(scenarios)
@examples(100)
def test_time_never_goes_back(given: Scenario) -> None:
    trace = simulate(given)

    for name, column in ENDS.items():
        ends = getattr(trace, name)[column]
        assert (np.diff(ends) >= 0).all(), name
    assert (trace.attempts["end_ns"] > trace.attempts["start_ns"]).all()
    assert (trace.attempts["end_ns"] < trace.duration_ns).all()
    assert (trace.frames["done_ns"] >= trace.frames["sampled_ns"]).all()
    assert (trace.reads["read_ns"] >= trace.reads["sampled_ns"]).all()
    assert (trace.passes["next_ns"] > trace.passes["start_ns"]).all()


@given(scenarios)
@examples(100)
def test_a_transmit_slot_never_has_more_attempts_than_the_limit_allows(given: Scenario) -> None:
    trace = simulate(given)

    for stream, unit in enumerate(given.transmitter.values()):
        mine = trace.attempts[trace.attempts["stream"] == stream]
        slots = np.stack((mine["frame"], mine["slot"]), axis=1)
        _, counts = np.unique(slots, axis=0, return_counts=True)
        most = unit.retry_limit + 1 if unit.acknowledge is True else 1
        assert counts.max(initial=0) <= most


@given(scenarios.filter(lambda given: given.air.range is None))
@examples(100)
def test_what_is_heard_was_alone_or_stronger_than_all_that_overlapped_it(given: Scenario) -> None:
    trace, plan = simulate(given), make_plan(given, 0)

    attempts = trace.attempts
    power = np.array([tx.power_mw for tx in plan.tx])[attempts["stream"]]
    for heard in np.flatnonzero(attempts["fate"] <= FULL):
        row = attempts[heard]
        meets = (attempts["start_ns"] < row["end_ns"]) & (attempts["end_ns"] > row["start_ns"])
        meets[heard] = False
        # What overlaps it is most wherever one of the others starts, or where it starts itself.
        for at_ns in [row["start_ns"], *attempts["start_ns"][meets]]:
            live = meets & (attempts["start_ns"] <= at_ns) & (attempts["end_ns"] > at_ns)
            level_mw = sum(power[live].tolist())
            assert power[heard] >= level_mw * plan.rx.cochannel_ratio * (1 - 1e-12)


@given(scenarios)
@examples(100)
def test_nothing_is_heard_while_the_receiver_acknowledgements(given: Scenario) -> None:
    trace, plan = simulate(given), make_plan(given, 0)

    heard = trace.attempts[trace.attempts["fate"] <= 2]
    for acknowledgement in trace.acknowledgements:
        deaf_from = acknowledgement["start_ns"] - plan.rx.settle_ns
        deaf_to = acknowledgement["end_ns"] + (
            0 if acknowledgement["fate"] == 3 else plan.rx.settle_ns
        )
        within = (heard["start_ns"] < deaf_to) & (heard["end_ns"] > deaf_from)
        assert not within.any()


@given(scenarios)
@examples(60)
def test_the_same_seed_gives_the_same_trace(given: Scenario) -> None:
    assert tables_of(simulate(given, start=1)) == tables_of(simulate(given, start=1))


@given(scenarios)
@examples(300)
def test_idle_passes_jumped_or_scheduled_one_by_one_give_the_same_trace(given: Scenario) -> None:
    plan = make_plan(given, 0)
    jumped, scheduled = run(plan), run(plan, every_pass=True)

    for name in ROWS:
        assert jumped[name].tolist() == scheduled[name].tolist(), name


@given(scenarios)
@examples(60)
def test_an_output_never_leaves_its_limits(given: Scenario) -> None:
    vehicle = run_vehicle(simulate(given))

    for name, output in given.output.items():
        levels = vehicle.outputs[name].effects["level"]
        levels = levels[~np.isnan(levels)]
        low, high = sorted(output.limit_us)
        if output.kind == "servo":
            assert ((levels >= low * 1000) & (levels <= high * 1000)).all()
        else:
            assert ((levels >= min(output.value)) & (levels <= max(output.value))).all()


@given(scenarios)
@examples(40)
def test_a_saved_trace_gives_the_same_figures(given: Scenario) -> None:
    trace = simulate(given)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "one.trace.npz"
        trace_file.save(trace, path)
        again = trace_file.load(path)

    assert tables_of(again) == tables_of(trace)
    assert summarise(again) == summarise(trace)
