"""The receiver's supply of one start, folded over what its outputs do (rules E4 and G5)."""

import msgspec
import numpy as np

from radiosim.engine.jit import JitBackend, Record, dtype_of
from radiosim.engine.plan import Plan
from radiosim.engine.plan_rows import PROGRAM_STARTS, PROGRAM_STOPS
from radiosim.engine.timeline import FOREVER_NS
from radiosim.scenario import Scenario
from radiosim.scenario.structs.output_table import Output
from radiosim.scenario.structs.supply_tables import MOST_LOADS, Load, Supply
from radiosim.trace import BrownoutRow, Table, table_dtype
from radiosim.units import ns_from_ms
from radiosim.vehicle.fold import supply as parts
from radiosim.vehicle.fold.supply import (
    NOWHEN,
    LoadChange,
    LoadState,
    SupplyState,
    Switch,
)
from radiosim.vehicle.output_fold import EFFECTS, OutputLog, numbers_of, stops_ns
from radiosim.vehicle.program_fold import program_steps
from radiosim.vehicle.supply_limits import (
    V_PER_UV,
    loads_of,
    most_ma_of,
    resting_ma,
    still_and_span,
    voltage_under,
)

_COUNTS = {"load": MOST_LOADS}
_CHANGES = dtype_of(LoadChange, {})


class SupplyMoment(msgspec.Struct, frozen=True):
    """All that a fold of a supply holds."""

    loads: dict[str, Record]
    state: Record
    pending: tuple[Table, ...]


class SupplyFold:
    """What the loads of one start draw, and the first dip that its plan does not know.

    Effects of outputs are taken as they come, then `dips` looks at all of them up to an instant.
    """

    def __init__(self, scenario: Scenario, supply: Supply, plan: Plan, backend: JitBackend) -> None:
        self._machine = backend
        self._loads = {
            name: _load_state(scenario.output[name], load, number, backend)
            for number, (name, load) in enumerate(loads_of(scenario).items())
        }
        self._state = _supply_state(scenario, supply, backend)
        self._room = backend.room(LoadChange, EFFECTS)
        self._pending: tuple[Table, ...] = ()
        self._fold_load = backend.entry(parts.fold_load)
        self._fold_supply = backend.entry(parts.fold_supply)
        self._follow(plan)

    def take(self, output: str, log: OutputLog) -> None:
        """Some more that an output did."""
        load = self._loads.get(output)
        if load is None or not len(log.effects):
            return
        told = self._fold_load(load, log.rows, self._stops_ns, self._room)
        if told:
            self._pending += (self._machine.table(LoadChange, self._room, told).copy(),)

    def dip(self, until_ns: int) -> BrownoutRow | None:
        """The first dip before an instant that is no step of the plan yet; None: there is none.

        All effects that end before that instant must have been taken. After a dip it must go back.
        """
        changes = np.concatenate((np.zeros(0, _CHANGES), *self._pending))
        changes = changes[np.lexsort((changes["load"], changes["at_ns"]))]
        due = int(np.searchsorted(changes["at_ns"], until_ns))
        self._pending = (changes[due:],)
        rows = self._machine.rows(changes[:due])
        found = self._fold_supply(self._state, rows, self._switches, until_ns)
        if found.at_ns == NOWHEN:
            return None
        return BrownoutRow(
            at_ns=int(found.at_ns),
            until_ns=min(int(found.until_ns), FOREVER_NS),
            outputs=int(found.outputs),
            drawn_ua=round(found.drawn_ma * 1e3),
            settles_uv=round(found.settles_v * 1e6),
        )

    def moment(self) -> SupplyMoment:
        """What it holds now."""
        copied = self._machine.copied
        loads = {name: copied(load) for name, load in self._loads.items()}
        return SupplyMoment(loads, copied(self._state), self._pending)

    def go_back(self, moment: SupplyMoment, plan: Plan) -> None:
        """Goes back to a moment, to go on by a plan that had the same past."""
        copied = self._machine.copied
        self._loads = {name: copied(load) for name, load in moment.loads.items()}
        self._state, self._pending = copied(moment.state), moment.pending
        self._follow(plan)

    def _follow(self, plan: Plan) -> None:
        self._stops_ns = self._machine.numbers(stops_ns(plan))
        steps = [
            Switch(step.at_ns, int(step.kind == PROGRAM_STARTS))
            for step in program_steps(plan)
            if step.kind in (PROGRAM_STARTS, PROGRAM_STOPS)
        ]
        self._switches = self._machine.rows(np.array(steps, table_dtype(Switch)))


def _load_state(output: Output, load: Load, number: int, backend: JitBackend) -> Record:
    """A load before anything has happened."""
    o = backend.record(LoadState)
    idle, span = still_and_span(output)
    backend.set(
        o,
        number=number,
        rest_ma=load.rest_ma,
        moving_ma=load.moving_ma,
        start_ma=most_ma_of(load),
        start_ns=ns_from_ms(load.start_ms),
        idle=idle,
        span=span,
        loss_ns=_loss_ns(output),
    )
    if output.servo is not None:
        backend.set(backend.get(o, "servo"), **numbers_of(output.servo))
    return o


def _loss_ns(output: Output) -> int:
    return 0 if output.motor is None else ns_from_ms(output.motor.signal_loss_ms)


def _supply_state(scenario: Scenario, supply: Supply, backend: JitBackend) -> Record:
    """The supply before anything has happened: its capacitor is charged, nothing moves."""
    loads = loads_of(scenario)
    s = backend.record(SupplyState, _COUNTS)
    backend.set(
        s,
        voltage_v=supply.voltage_v,
        volts_per_ma=supply.resistance_mohm * V_PER_UV,
        tau_ns=supply.resistance_mohm * supply.capacitance_uf,
        brownout_v=supply.brownout_v,
        release_v=supply.brownout_v + supply.hysteresis_mv / 1000,
        board_ma=scenario.receiver.board_ma,
        loads=len(loads),
        volts=voltage_under(supply, resting_ma(scenario)),
    )
    for draws, (name, load) in zip(backend.get(s, "load"), loads.items(), strict=False):
        output = scenario.output[name]
        backend.set(
            draws,
            rest_ma=load.rest_ma,
            loss_ns=NOWHEN if output.servo is not None else _loss_ns(output),
        )
    return s
