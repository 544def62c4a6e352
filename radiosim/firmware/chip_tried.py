"""A whole firmware tried on starts of a scenario: what its pins did beside the prediction."""

import numpy as np

from radiosim.engine.plan import Plan, plan_of
from radiosim.engine.rules.timing import scaled
from radiosim.engine.simulate import Engine
from radiosim.errors import FirmwareError
from radiosim.firmware.bench import Bench
from radiosim.firmware.board import Board
from radiosim.firmware.chip import chip_script, unheard
from radiosim.firmware.chip_edges import downs_of, is_open, undecided, without_open
from radiosim.firmware.compare import (
    NOT_READ,
    WIDTHS,
    Compared,
    Difference,
    ReadElsewhere,
    compared,
    of_output,
    reads_elsewhere,
)
from radiosim.firmware.compare import tolerance_ns as tolerance_of_logic
from radiosim.firmware.pin_pulses import compared_pulses, pulses_of
from radiosim.firmware.program_log import Tells
from radiosim.firmware.ramps import Course
from radiosim.firmware.script import Reply, Script, script_of
from radiosim.firmware.tried import Tried, ended_of
from radiosim.scenario import Scenario
from radiosim.trace import Trace
from radiosim.units import NS_PER_S
from radiosim.vehicle.feedback import simulate
from radiosim.vehicle.vehicle import VehicleRecord, run_vehicle


def tried_on_chip(
    scenario: Scenario,
    start: int,
    bench: Bench,
    board: Board,
    *,
    engine: Engine = "auto",
    tells: Tells | None = None,
) -> Tried:
    """One start with a firmware on the chip beside the model.

    `tells`: is given what was run. FirmwareError for one that cannot be compared.
    """
    trace = simulate(scenario, start=start, engine=engine)
    plan = plan_of(trace)
    tolerance = tolerance_ns(scenario, plan, board)
    script = chip_script(scenario, plan, script_of(scenario, plan, trace))
    reply = bench.run(script)
    if tells is not None:
        tells(plan, trace, script, reply)
    end = ended_of(bench, scenario, reply)
    found = None
    if end is None:
        record = run_vehicle(trace)
        found = _difference(scenario, plan, trace, record, script, reply, board, tolerance)
    return Tried(
        start=start,
        difference=found,
        ended=end,
        printed="",
        printed_bytes=0,
        swallowed=0,
        waited_most_ns=0,
        waited_most_at_ns=0,
        boot_waited_ns=0,
        wraps_ns=(),
        notes=tuple(_unheard(reply, start)),
    )


def tolerance_ns(scenario: Scenario, plan: Plan, board: Board) -> int:
    """How long pins may be late: a step of the clock, the longest pass, and the slowest refresh."""
    of_logic = tolerance_of_logic(plan)
    if of_logic is None:
        raise FirmwareError("receiver.work: passes without an end cannot be compared")
    slowest_hz = min(scenario.output[name].refresh_hz for name in board.outputs)
    return of_logic + scaled(round(NS_PER_S / slowest_hz), plan.rx.ppb)


def _difference(
    scenario: Scenario,
    plan: Plan,
    trace: Trace,
    record: VehicleRecord,
    script: Script,
    reply: Reply,
    board: Board,
    tolerance: int,
) -> Difference:
    pass_ns = tolerance_of_logic(plan) or 0
    outputs = [
        _compared(scenario, plan, record, reply, name, pass_ns)
        for name in scenario.output
        if name in board.outputs
    ]
    others = [
        read for read in reads_elsewhere(plan, trace, script, reply) if _is_elsewhere(read, pass_ns)
    ]
    downs = undecided(downs_of(plan), others, pass_ns)
    others = [read for read in others if not is_open(read, downs, pass_ns)]
    late_ns = tolerance + max(tx.period_ns for tx in plan.tx)
    return Difference(
        frames=len(script.rows),
        reads=len(script.rows) - len(others),
        first_elsewhere=min(others, key=lambda one: one.at_ns, default=None),
        outputs=tuple(without_open(one, downs, late_ns) for one in outputs),
        failsafe=(),
        tolerance_ns=tolerance,
    )


def _compared(
    scenario: Scenario, plan: Plan, record: VehicleRecord, reply: Reply, name: str, late_ns: int
) -> Compared:
    """One output's pin."""
    number, output = list(scenario.output).index(name), scenario.output[name]
    before = np.nan if output.kind == "servo" else 0.0
    told = record.outputs[name].told
    level = np.nan_to_num(np.asarray(told["level"], np.float64), nan=before)
    model = Course(at_ns=told["at_ns"], level=level, before=before)
    if output.kind != "servo":
        real = of_output(reply, np.zeros(0, np.int64), number, before)
        return compared(name, model, real, plan.until_ns, late_ns, WIDTHS[output.kind])
    period_ns = scaled(round(NS_PER_S / output.refresh_hz), plan.rx.ppb)
    mine = reply.outs[reply.outs["output"] == number]
    pulses = pulses_of(mine, period_ns, plan.until_ns)
    return compared_pulses(name, model, pulses, period_ns, plan.until_ns, late_ns)


def _is_elsewhere(read: ReadElsewhere, within_ns: int) -> bool:
    is_one = NOT_READ in (read.predicted_ns, read.real_ns)
    return is_one or abs(read.predicted_ns - read.real_ns) > within_ns


def _unheard(reply: Reply, start: int) -> list[str]:
    """Frames that the chip's radio did not take in although the model's did, a line a reason."""
    return [
        f"{count:,} frames of start {start} did not get in, the first at {at_ns / NS_PER_S:.6f} s: "
        f"{why}"
        for count, at_ns, why in unheard(reply.seen)
    ]
