"""What the program did does not depend on how rows were cut, instant by instant."""

from typing import Any

import pytest

from radiosim.engine.jit import backend_for
from radiosim.engine.simulate import Flow, flow_of, simulate
from radiosim.scenario import Scenario
from radiosim.vehicle.program_fold import ProgramFold
from tests.chunks import one_by_one
from tests.traces import scenario_with


def held_up(offset_ms: int) -> Scenario:
    """A program that stands in work while the FIFO fills up, and is reset before it reads on."""
    return scenario_with(
        "duration_s=1.2",
        "fault=[{at_s=0.5, kind='reset', unit='receiver'}]",
        f"receiver.work=[{{every_ms=200, takes_ms=60, offset_ms={offset_ms}}}]",
        "receiver.read='one'",
        "receiver.boot_s=0.2",
        "transmitter.drive.period_ms=6",
        "transmitter.head.period_ms=7",
        "failsafe.drive={timeout_ms=100, fed_at='arrival', fed_by='any'}",
    )


def events_of(passing: Flow) -> list[Any]:
    program = ProgramFold(passing.scenario, passing.plan, backend_for(passing.plan, "auto"))
    events: list[Any] = []
    for chunk in passing.chunks:
        for batch in program.take(chunk["reads"], chunk["passes"]):
            events += batch.events.tolist()
    for batch in program.finish():
        events += batch.events.tolist()
    return events


@pytest.mark.parametrize("offset_ms", [40, 50, 60, 70, 80])
def test_frames_that_came_before_a_reset_feed_no_timer_after_it(offset_ms: int) -> None:
    trace = simulate(held_up(offset_ms), start=1)

    assert events_of(one_by_one(trace)) == events_of(flow_of(trace))
