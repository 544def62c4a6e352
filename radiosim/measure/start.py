"""One start measured: rows in, tally out, with the beats of its clocks (rule T6).

Source: facts derived from two periodic transmitters. Nearly equal periods, or nearly a whole
multiple of one another, meet every T₁·T₂/|T₁ − m·T₂| (m = 1: the textbook beat period) and stay in
each other's air time for a while; periods further from a multiple meet all the time, briefly.
"""

import math
import threading
from collections.abc import Iterator, Sequence
from itertools import combinations
from typing import TYPE_CHECKING

import msgspec

from radiosim.engine.grids import can_starve, grid_pairs, grid_window_ns, shared_with_grid
from radiosim.engine.jit import JitBackend, Record, Rows, backend_for
from radiosim.engine.plan import Plan
from radiosim.engine.plan_rows import Tx
from radiosim.engine.simulate import Engine, Flow, choose, flow_of
from radiosim.engine.stratification import beats_in, drifts, period_of, window_ns
from radiosim.engine.unit_spans import first_boot_ns, shared_ns
from radiosim.measure.by_program import own_vehicle
from radiosim.measure.of_fault import FaultFolds
from radiosim.measure.of_output import OutputFigures
from radiosim.measure.of_stream import StreamFold
from radiosim.measure.tally import FailsafeTally, StartTally
from radiosim.scenario import Scenario
from radiosim.scenario.noise import noise_per_hour
from radiosim.trace import Trace
from radiosim.vehicle.feedback import flow as simulated
from radiosim.vehicle.output_fold import FailsafeFold
from radiosim.vehicle.vehicle import Act, Vehicle

if TYPE_CHECKING:
    from radiosim.firmware.own_vehicle import OwnVehicle
    from radiosim.measure.in_one_call import Begun, Folds


def expected_beats(first: Tx, second: Tx, duration_ns: int, base_ns: int = 0) -> float:
    """Beats of one pair that one start can be expected to have seen; inf: always on one.

    Counts the chance to be on one when it starts. Jitter, and transmitters that are not on a
    timer, scatter the phase: such a pair counts as seen."""
    if not drifts(first, second):
        return math.inf
    periods = period_of(first) / 1e6, period_of(second) / 1e6
    drifting = (first.drift, second.drift)
    window = window_ns(first, second)
    return beats_in(*periods, window, duration_ns, drifts=drifting, base_ns=base_ns)


def seen_beats(plan: Plan) -> tuple[float, ...]:
    """By pair that can meet: how many of its beats this start can be expected to have seen.

    Pairs of transmitters first, then each transmitter with each grid beside the link.

    inf where nothing needs to be seen. Only time in which both transmitters' programs run can show
    a beat; a start that was placed on a beat has seen one."""
    pairs = tuple(combinations(range(len(plan.tx)), 2))
    return tuple(_seen_by_pair(plan, a, b) for a, b in pairs) + tuple(_seen_on_grids(plan))


def _seen_by_pair(plan: Plan, a: int, b: int) -> float:
    if not drifts(plan.tx[a], plan.tx[b]):
        return math.inf
    found = expected_beats(
        plan.tx[a],
        plan.tx[b],
        shared_ns(plan.steps, a, b, plan.until_ns),
        max(first_boot_ns(plan.steps, unit) for unit in (a, b)),
    )
    return max(1.0 if (a, b) == plan.phases.made_for else 0.0, found)


def _seen_on_grids(plan: Plan) -> Iterator[float]:
    """The same by transmitter and grid beside the link."""
    units = len(plan.tx)
    for i, place in grid_pairs(plan.tx, plan.grids):
        grid = plan.grids[place - units]
        if (i, place) == plan.phases.made_for:
            yield 1.0
        elif can_starve(plan.rx, plan.tx, i, grid):
            shared = shared_with_grid(plan.steps, i, units, grid)
            window = grid_window_ns(plan.tx, i, grid)
            yield beats_in(
                period_of(plan.tx[i]) / 1e6,
                grid.period_ns,
                window,
                shared,
                drifts=(plan.tx[i].drift, grid.drift),
                base_ns=max(first_boot_ns(plan.steps, i), grid.from_ns),
            )
        else:
            yield math.inf


def tally_start(trace: Trace) -> StartTally:
    """What one start adds to the figures, from its trace.

    FirmwareError as of `tally_program`, if its scenario names a program.
    """
    if trace.scenario.receiver.program is not None:
        return tally_program(trace)
    return tally_flow(flow_of(trace))


def tally_flow(flow: Flow) -> StartTally:
    """What one start adds to the figures, from its rows as they go by.

    Memory does not grow with the simulated time. However the rows are cut into chunks, the tally
    is the same, to the last bit.
    """
    backend = backend_for(flow.plan, flow.engine)
    if flow.is_new and backend.compiler is not None:
        found = _tally_in_one_call(flow, backend)
        if found is not None:
            return found
    return _by_chunks(_Start(flow, backend))


def tally_program(trace: Trace) -> StartTally:
    """What one start adds, its outputs and failsafe those of the program that its scenario names.

    FirmwareError as of `OwnVehicle`.
    """
    flow = flow_of(trace)
    backend = backend_for(flow.plan, flow.engine)
    return _by_chunks(_Start(flow, backend, vehicle=own_vehicle(trace)))


def _by_chunks(start: "_Start") -> StartTally:
    for chunk in start.flow.chunks:
        start.streams.take(chunk)
        for act in start.vehicle.take(chunk["reads"], chunk["passes"]):
            start.take(act)
    start.finish()
    return start.tally()


def _tally_in_one_call(flow: Flow, backend: JitBackend) -> StartTally | None:
    """The same, by machine code that simulates too; None: its rows must be taken as they go by."""
    start, begun = _begun(flow, backend)
    # Only a start that has come to its end leaves room that the next one can be made in.
    _LAST.begun = None
    if not begun.fold():
        return None
    found = start.tally()
    _LAST.begun = start, begun
    return found


def _begun(flow: Flow, backend: JitBackend) -> tuple["_Start", "Begun"]:
    """A start that has yet to be simulated, in the room of the one before if that was of the same
    scenario."""
    from radiosim.measure import in_one_call  # noqa: PLC0415 - loads LLVM

    if _LAST.begun is not None and _LAST.begun[1].scenario is flow.scenario:
        start, begun = _LAST.begun
        start.again(flow)
        begun.again(flow.plan, flow.start, start.folds(begun.units))
        start.streams.draw(flow.plan)
        return start, begun
    units = in_one_call.output_units(len(flow.scenario.output))
    start = _Start(flow, backend, [unit["figures"] for unit in units])
    return start, in_one_call.Begun(flow.scenario, flow.plan, start.folds(units))


class _Last(threading.local):
    """The start that this thread has simulated last."""

    begun: "tuple[_Start, Begun] | None" = None


_LAST = _Last()


def make_folds_ready(scenario: Scenario, engine: Engine) -> None:
    """Make or load the machine code of all folds, so that other processes find it kept.

    Nothing is to be made where the reference engine serves.
    """
    if choose(engine).engine == "reference":
        return
    # Long enough for the program to boot, which is a step.
    duration_s = min(scenario.duration_s, scenario.receiver.boot_s + 1.0)
    tally_flow(simulated(msgspec.structs.replace(scenario, duration_s=duration_s), engine=engine))


class _Start:
    """All folds of one start."""

    def __init__(
        self,
        flow: Flow,
        backend: JitBackend,
        figures: Sequence[Record] | None = None,
        vehicle: "OwnVehicle | None" = None,
    ) -> None:
        """`figures`: room for those of each output, if it is elsewhere; `vehicle`: by the program
        that the scenario names."""
        scenario, plan = flow.scenario, flow.plan
        has_noise = noise_per_hour(scenario) is not None
        self.streams = StreamFold(plan, backend, has_noise=has_noise)
        self.vehicle = vehicle or Vehicle(scenario, plan, flow.start, backend)
        self._outputs = {
            name: OutputFigures(plan, output, backend, None if figures is None else figures[k])
            for k, (name, output) in enumerate(scenario.output.items())
        }
        self.again(flow)

    def again(self, flow: Flow) -> None:
        """Another start of the scenario; the states of its folds are put back elsewhere."""
        scenario, plan, self.flow = flow.scenario, flow.plan, flow
        self.failsafes = {
            stream: FailsafeFold(scenario, plan, stream)
            for stream, name in enumerate(plan.streams)
            if name in scenario.failsafe
        }
        for output in self._outputs.values():
            output.plan = plan
        self.faults = FaultFolds(scenario, plan)

    def folds(self, units: Rows) -> "Folds":
        """Those that machine code runs; `units`: one an output, see OutputUnit."""
        from radiosim.measure import in_one_call  # noqa: PLC0415 - loads LLVM

        assert isinstance(self.vehicle, Vehicle)
        return in_one_call.Folds(
            streams=self.streams,
            vehicle=self.vehicle,
            units=units,
            failsafes=tuple(self.failsafes.values()),
            faults=self.faults,
        )

    def take(self, act: Act) -> None:
        """Something that the vehicle did."""
        if act.batch is not None and not act.batch.has_only_writes:
            for failsafe in self.failsafes.values():
                failsafe.take(act.batch.events)
        if act.output_log is not None:
            self._outputs[act.output].take(act.output_log)
            self.faults.take(act.output, act.output_log)

    def finish(self) -> None:
        """No more rows come."""
        self.streams.finish()
        for act in self.vehicle.finish():
            self.take(act)
        for output in self._outputs.values():
            output.finish()

    def tally(self) -> StartTally:
        """What all of it has come to."""
        flow, plan = self.flow, self.flow.plan
        failsafes = {stream: _failsafe(fold) for stream, fold in self.failsafes.items()}
        streams, receiver = self.streams.tallies(failsafes)
        return StartTally(
            start=flow.start,
            engine=flow.engine,
            duration_ns=plan.until_ns,
            streams=streams,
            outputs={name: output.tally() for name, output in self._outputs.items()},
            busy_ns=self.streams.busy_ns,
            receiver=receiver,
            faults=self.faults.finish(),
            brownouts=plan.brownouts,
            beats=seen_beats(plan),
            phases=plan.phases,
        )


def _failsafe(fold: FailsafeFold) -> FailsafeTally:
    fold.finish()
    return FailsafeTally(
        trips_on_fault=fold.trips_on_fault, nuisance_trips=fold.nuisance_trips, on_ns=fold.on_ns
    )
