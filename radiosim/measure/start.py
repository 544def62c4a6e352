"""One start measured: trace in, tally out."""

import numpy as np

from radiosim.engine.plan import make_plan
from radiosim.measure.meetings import seen_meetings
from radiosim.measure.of_fault import tally_fault
from radiosim.measure.of_output import tally_output
from radiosim.measure.of_stream import tally_stream
from radiosim.measure.tally import StartTally
from radiosim.trace import Table, Trace
from radiosim.vehicle.output import run_output
from radiosim.vehicle.program import run_program
from radiosim.vehicle.smoothing import all_pass_starts
from radiosim.vehicle.values import ReadValues


def tally_start(trace: Trace) -> StartTally:
    """What one start adds to the figures."""
    scenario = trace.scenario
    plan = make_plan(scenario, trace.start)
    values = ReadValues(trace, plan)
    programs = run_program(trace, plan, values)
    is_smoothed = any(output.smoothing_us_per_pass for output in scenario.output.values())
    pass_starts = all_pass_starts(trace, plan) if is_smoothed else None
    records = {
        name: run_output(
            trace,
            plan,
            name,
            programs[plan.streams.index(output.stream)],
            pass_starts,
            values=values,
        )
        for name, output in scenario.output.items()
    }
    return StartTally(
        start=trace.start,
        engine=trace.engine,
        duration_ns=trace.duration_ns,
        streams={
            name: tally_stream(trace, plan, i, programs[i], name in scenario.failsafe)
            for i, name in enumerate(plan.streams)
        },
        outputs={
            name: tally_output(trace, plan, output, records[name])
            for name, output in scenario.output.items()
        },
        busy_ns=busy_ns(trace.attempts, trace.acknowledgements),
        faults=tuple(tally_fault(scenario, fault, records) for fault in scenario.fault),
        meetings=seen_meetings(plan),
        phases=plan.phases,
    )


def busy_ns(*on_air: Table) -> int:
    """Time in which anything is on the air, overlaps counted once."""
    starts = np.concatenate([table["start_ns"] for table in on_air])
    ends = np.concatenate([table["end_ns"] for table in on_air])
    order = np.argsort(starts, kind="stable")
    starts, ends = starts[order], ends[order]
    until = np.concatenate(([0], np.maximum.accumulate(ends)[:-1])) if len(ends) else ends
    return int(np.maximum(0, ends - np.maximum(starts, until)).sum())
