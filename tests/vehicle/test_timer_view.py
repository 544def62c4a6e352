"""A timer looked at while its run stands still."""

import msgspec
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from radiosim.engine.jit import backend_for
from radiosim.engine.plan import Plan, make_plan
from radiosim.scenario import Scenario, parse
from radiosim.vehicle.program_fold import ProgramFold
from radiosim.vehicle.timer_view import Glance, TimerView
from tests.engines.random_scenarios import scenarios
from tests.examples import examples

fast = pytest.importorskip("radiosim.engine.fast", reason="runs are copied in compiled code")
ODD_NS = 7
"""Past a tick of the random scenarios, so that hardly anything happens just then."""
LOSSY = """
duration_s = 2
air.loss = 0.6
radio.profile = "gfsk-1M"
receiver.boot_s = 0
transmitter.drive = { boot_s = 0, period_ms = 20, payload_bytes = 6, acknowledge = false }
failsafe.drive = { timeout_ms = 70 }
"""


def looks(given: Scenario, plan: Plan, stream: int, stops_ns: list[int]) -> list[Glance]:
    """A glance at each stop."""
    run, view = fast.begin(plan), TimerView(given, plan, stream, backend_for(plan, "auto"))
    found = []
    for stop_ns in stops_ns:
        for chunk in run.run_until(stop_ns):
            view.take(chunk["reads"], chunk["passes"])
        found.append(view.look(stop_ns, run.waiting(), run.under_way()))
    return found


def at_the_end(given: Scenario, plan: Plan, stream: int, until_ns: int) -> tuple[int, int]:
    """When the timer was last fed and whether failsafe is on, if the start ends then."""
    steps = tuple(step for step in plan.steps if step.at_ns < until_ns)
    ended = msgspec.structs.replace(plan, steps=steps, until_ns=until_ns)
    program = ProgramFold(given, ended, backend_for(plan, "auto"))
    for chunk in fast.chunks(ended):
        assume(not (chunk["reads"]["read_ns"] == until_ns - 1).any())
        for _ in program.take(chunk["reads"], chunk["passes"]):
            pass
    for _ in program.finish():
        pass
    timer = program.state["timer"][program.state["timer_of"][stream]]
    return int(timer["fed_ns"]), int(timer["is_on"])


@given(scenarios, st.lists(st.integers(1, 399), min_size=1, max_size=4, unique=True).map(sorted))
@examples(50)
def test_a_look_sees_what_a_start_that_ends_then_would(given: Scenario, ticks: list[int]) -> None:
    plan = make_plan(given, 0)
    stops_ns = [tick * 250_000 + ODD_NS for tick in ticks if tick * 250_000 < plan.until_ns - 1]
    for name in given.failsafe:
        stream = plan.streams.index(name)
        for stop_ns, seen in zip(stops_ns, looks(given, plan, stream, stops_ns), strict=True):
            assert (seen.fed_ns, seen.is_on) == at_the_end(given, plan, stream, stop_ns)


def test_every_entry_is_seen_by_looks_that_are_closer_than_a_timeout() -> None:
    given = parse(LOSSY)
    plan = make_plan(given, 0)
    seen = looks(given, plan, 0, [*range(30_000_000, plan.until_ns, 30_000_000), plan.until_ns])
    entered = sorted({(glance.entered_ns, glance.entered_fed_ns) for glance in seen} - {(-1, -1)})
    program, events = ProgramFold(given, plan, backend_for(plan, "auto")), []
    for chunk in fast.chunks(plan):
        for batch in program.take(chunk["reads"], chunk["passes"]):
            events += batch.events[batch.events["kind"] == 3].tolist()
    for batch in program.finish():
        events += batch.events[batch.events["kind"] == 3].tolist()

    assert len(events) > 5
    assert entered == [(at_ns, fed_ns) for _, at_ns, _, fed_ns, *_ in events]


def test_going_back_goes_on_from_there() -> None:
    given = parse(LOSSY)
    plan = make_plan(given, 0)
    run, view = fast.begin(plan), TimerView(given, plan, 0, backend_for(plan, "auto"))

    def head(at_ns: int) -> Glance:
        for chunk in run.run_until(at_ns):
            view.take(chunk["reads"], chunk["passes"])
        return view.look(at_ns, run.waiting(), run.under_way())

    head(500_000_000)
    moments = run.moment(), view.moment()
    first = [head(at_ns) for at_ns in (700_000_000, 900_000_000)]
    run.go_back(moments[0], 0)
    view.go_back(moments[1])
    again = [head(at_ns) for at_ns in (700_000_000, 900_000_000)]
    run.go_back(moments[0], 5)
    view.go_back(moments[1])
    other = [head(at_ns) for at_ns in (700_000_000, 900_000_000)]

    assert first == again
    assert first != other
