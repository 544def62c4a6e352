"""Simulates starts with what the vehicle does to the link: it can bring its own receiver down.

What outputs draw lowers the receiver's voltage (rule E4), and a dip stops its program, and so the
outputs. Nothing before a dip depends on it: the start is simulated until the first one, goes on
from there with that dip among its steps, and so on until there is none left.
"""

from collections.abc import Iterator
from typing import Any

import msgspec

from radiosim.engine import simulate as engines
from radiosim.engine.jit import backend_for
from radiosim.engine.plan import Plan, make_plan, with_brownouts
from radiosim.engine.simulate import Chunk, Engine, Flow, checked, choose, run_plan, trace_of
from radiosim.scenario import Scenario
from radiosim.scenario.structs.supply_tables import Supply
from radiosim.trace import BrownoutRow, Trace
from radiosim.units import NS_PER_MS
from radiosim.vehicle.supply_fold import SupplyFold, SupplyMoment
from radiosim.vehicle.supply_limits import can_brown_out
from radiosim.vehicle.vehicle import Vehicle, VehicleMoment

_WINDOW_NS = 2_000 * NS_PER_MS
"""Of simulated time between moments that a run can go back to."""
_MOST_MOMENTS = 64
"""Of them every other one is let go of where there are more."""


def flow(
    scenario: Scenario, *, seed: int | None = None, start: int = 0, engine: Engine = "auto"
) -> Flow:
    """The rows of one start, in chunks of some thousand; arguments as for `simulate`."""
    scenario = checked(scenario, seed, start)
    found = brownouts_of(scenario, start, engine)
    return engines.flow(scenario, start=start, engine=engine, brownouts=found)


def simulate(
    scenario: Scenario,
    *,
    seed: int | None = None,
    start: int = 0,
    engine: Engine = "auto",
    most_bytes: int | None = None,
) -> Trace:
    """The trace of one start; `seed` replaces the scenario's own.

    With `most_bytes` TraceError, as soon as that is known, for a start with more bytes of rows.

    The same scenario, seed, start and version give the same trace on every machine and engine
    (rule T2); "auto" is the compiled engine, or the reference where LLVM cannot be had.
    TypeError for what is not a scenario or a whole number, ValueError for a negative seed or
    start or an unknown engine.
    """
    return trace_of(flow(scenario, seed=seed, start=start, engine=engine), most_bytes)


def brownouts_of(scenario: Scenario, start: int, engine: Engine) -> tuple[BrownoutRow, ...]:
    """Brown-outs that the outputs of one start bring about, in order (rule E4)."""
    supply = scenario.receiver.supply
    if supply is None or not can_brown_out(scenario):
        return ()
    plan = make_plan(scenario, start)
    if choose(engine).engine == "fast":
        from radiosim.engine import fast  # noqa: PLC0415 - loads LLVM

        if fast.can_run(plan):
            watched = _watch(scenario, supply, plan, start, "fast")
            return _Windows(scenario, watched, fast.begin(plan)).brownouts()
    return _from_the_start(scenario, supply, plan, start)


class _Watch(msgspec.Struct):
    """A vehicle and its supply, which look at rows as they come."""

    vehicle: Vehicle
    supply: SupplyFold

    def take(self, chunk: Chunk) -> BrownoutRow | None:
        """The first dip that more rows make known."""
        return self._look(self.vehicle.take(chunk["reads"], chunk["passes"]))

    def finish(self) -> BrownoutRow | None:
        """The first dip when no more rows come."""
        return self._look(self.vehicle.finish())

    def _look(self, acts: Iterator[Any]) -> BrownoutRow | None:
        until_ns = 0
        for act in acts:
            if act.batch is not None:
                found = self.supply.dip(until_ns) if until_ns else None
                if found is not None:
                    return found
                until_ns = act.batch.until_ns
            elif act.output_log is not None:
                self.supply.take(act.output, act.output_log)
        return self.supply.dip(until_ns) if until_ns else None


def _watch(scenario: Scenario, supply: Supply, plan: Plan, start: int, engine: str) -> _Watch:
    backend = backend_for(plan, engine)
    return _Watch(
        Vehicle(scenario, plan, start, backend, is_prompt=True),
        SupplyFold(scenario, supply, plan, backend),
    )


def _from_the_start(
    scenario: Scenario, supply: Supply, plan: Plan, start: int
) -> tuple[BrownoutRow, ...]:
    """Found by the reference engine, which cannot go back: each from the start of the run."""
    while True:
        watch, found = _watch(scenario, supply, plan, start, "reference"), None
        for chunk in run_plan(plan, "reference")[1]:
            found = found or watch.take(chunk)
        found = found or watch.finish()
        if found is None:
            return plan.brownouts
        plan = with_brownouts(scenario, plan, (*plan.brownouts, found))


class _Moment(msgspec.Struct, frozen=True):
    at_ns: int
    run: Any
    vehicle: VehicleMoment
    supply: SupplyMoment


class _Windows(msgspec.Struct):
    """A compiled run in windows, which goes back to the last one that began before a dip."""

    scenario: Scenario
    watch: _Watch
    run: Any
    """A run that can be paused, see engine/fast/compiled_run.py."""
    moments: list[_Moment] = msgspec.field(default_factory=list)

    def brownouts(self) -> tuple[BrownoutRow, ...]:
        """All of the run."""
        at_ns = 0
        while at_ns < self.run.plan.until_ns:
            self._keep(at_ns)
            at_ns = min(at_ns + _WINDOW_NS, self.run.plan.until_ns)
            found = self._window(at_ns)
            if found is not None:
                at_ns = self._go_back(found)
        brownouts: tuple[BrownoutRow, ...] = self.run.plan.brownouts
        return brownouts

    def _window(self, until_ns: int) -> BrownoutRow | None:
        found = None
        for chunk in self.run.run_until(until_ns):
            found = found or self.watch.take(chunk)
        if found is None and until_ns == self.run.plan.until_ns:
            last = {"reads": self.run.waiting(), "passes": self.run.under_way()}
            found = self.watch.take(last) or self.watch.finish()
        return found

    def _keep(self, at_ns: int) -> None:
        if len(self.moments) >= _MOST_MOMENTS:
            del self.moments[1::2]
        self.moments.append(
            _Moment(
                at_ns, self.run.moment(), self.watch.vehicle.moment(), self.watch.supply.moment()
            )
        )

    def _go_back(self, found: BrownoutRow) -> int:
        """To a moment before a dip, with that dip among the steps; the moment."""
        plan = with_brownouts(self.scenario, self.run.plan, (*self.run.plan.brownouts, found))
        while self.moments[-1].at_ns > found.at_ns:
            self.moments.pop()
        moment = self.moments.pop()
        self.run.plan = plan
        self.run.go_back(moment.run, 0)
        self.watch.vehicle.go_back(moment.vehicle, plan)
        self.watch.supply.go_back(moment.supply, plan)
        return moment.at_ns
