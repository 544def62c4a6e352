"""One start measured: rows in, tally out."""

import msgspec
import numpy as np

from radiosim.engine.machine import machine_for
from radiosim.engine.plan import make_plan
from radiosim.engine.simulate import Flow, flow_of
from radiosim.measure.beats import seen_beats
from radiosim.measure.of_fault import FaultFold, touches
from radiosim.measure.of_output import OutputFigures
from radiosim.measure.of_stream import StreamFold
from radiosim.measure.tally import FailsafeTally, StartTally
from radiosim.scenario import Scenario
from radiosim.trace import DTYPES, Trace
from radiosim.vehicle.failsafe import FailsafeFold
from radiosim.vehicle.vehicle import Act, Vehicle


def tally_start(trace: Trace) -> StartTally:
    """What one start adds to the figures, from its trace."""
    return tally_flow(flow_of(trace))


def tally_flow(flow: Flow) -> StartTally:
    """What one start adds to the figures, from its rows as they go by.

    Memory does not grow with the simulated time. However the rows are cut into chunks, the tally
    is the same, to the last bit.
    """
    start = _Start(flow)
    for chunk in flow.chunks:
        start.streams.take(chunk)
        for act in start.vehicle.take(chunk["reads"], chunk["passes"]):
            start.take(act)
    start.streams.finish()
    for act in start.vehicle.finish():
        start.take(act)
    return start.tally()


def make_folds_ready(scenario: Scenario) -> None:
    """Make or load the machine code of all folds, so that forked processes find it made."""
    # Long enough for the program to boot, which is a step.
    duration_s = min(scenario.duration_s, scenario.receiver.boot_s + 1.0)
    scenario = msgspec.structs.replace(scenario, duration_s=duration_s)
    nothing = {name: np.zeros(0, dtype) for name, dtype in DTYPES.items()}
    plan = make_plan(scenario, 0)
    tally_flow(Flow(scenario=scenario, start=0, engine="none", plan=plan, chunks=iter((nothing,))))


class _Start:
    """All folds of one start."""

    def __init__(self, flow: Flow) -> None:
        scenario, plan, machine = flow.scenario, flow.plan, machine_for(flow.plan)
        self._flow = flow
        self.streams = StreamFold(plan, machine)
        self.vehicle = Vehicle(scenario, plan, flow.start, machine)
        self._failsafes = {
            stream: FailsafeFold(scenario, plan, stream)
            for stream, name in enumerate(plan.streams)
            if name in scenario.failsafe
        }
        self._outputs = {
            name: OutputFigures(plan, output, machine) for name, output in scenario.output.items()
        }
        self._faults = [
            {
                name: FaultFold(scenario, fault, output)
                for name, output in scenario.output.items()
                if touches(fault, output)
            }
            for fault in scenario.fault
        ]

    def take(self, act: Act) -> None:
        """Something that the vehicle did."""
        if act.batch is not None and not act.batch.has_only_writes:
            for failsafe in self._failsafes.values():
                failsafe.take(act.batch.events)
        if act.deeds is not None:
            self._outputs[act.output].take(act.deeds)
            for fault in self._faults:
                if act.output in fault:
                    fault[act.output].take(act.deeds)

    def tally(self) -> StartTally:
        """What all of it has come to."""
        flow, plan = self._flow, self._flow.plan
        failsafes = {stream: _failsafe(fold) for stream, fold in self._failsafes.items()}
        return StartTally(
            start=flow.start,
            engine=flow.engine,
            duration_ns=plan.until_ns,
            streams={
                name: self.streams.tally(stream, failsafes.get(stream))
                for stream, name in enumerate(plan.streams)
            },
            outputs={name: output.finish() for name, output in self._outputs.items()},
            busy_ns=self.streams.busy_ns,
            receiver=self.streams.receiver(),
            faults=tuple(
                {name: fold.finish() for name, fold in fault.items()} for fault in self._faults
            ),
            beats=seen_beats(plan),
            phases=plan.phases,
        )


def _failsafe(fold: FailsafeFold) -> FailsafeTally:
    fold.finish()
    return FailsafeTally(
        trips_on_fault=fold.trips_on_fault, nuisance_trips=fold.nuisance_trips, on_ns=fold.on_ns
    )
