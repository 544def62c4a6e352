"""A firmware's own times, measured on the emulated chip for its scenario."""

from dataclasses import dataclass

from msgspec.structs import replace

from radiosim.engine.plan import plan_of
from radiosim.errors import FirmwareError
from radiosim.firmware.bench import Bench
from radiosim.firmware.board import Board
from radiosim.firmware.chip import chip_script
from radiosim.firmware.chip_times import (
    HANG_S,
    MEASURED_S,
    RESET_S,
    ChipTimes,
    chip_times,
    settings_of,
)
from radiosim.firmware.script import Status, script_of
from radiosim.scenario import Scenario
from radiosim.scenario.structs.failsafe_and_fault import Fault
from radiosim.units import ns_from_s
from radiosim.vehicle.feedback import simulate

_OF_WATCHDOG = 1.5
"""How many times the watchdog that the scenario has is waited for."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """What a firmware was seen to do in a short start with a reset, and a hang for its watchdog."""

    times: ChipTimes
    settings: list[str]
    """KEY=VALUE of the scenario, for --set."""
    notes: list[str]
    """What the scenario has and the firmware has not."""


def measured(scenario: Scenario, board: Board, bench: Bench) -> Measured:
    """Measure a firmware; FirmwareError if its board has no mark or it never turns round."""
    if "mark" not in board.pins:
        raise FirmwareError(
            "--measure: --pins lacks mark, a pin that the firmware turns over once a pass"
        )
    faults = [Fault(at_s=RESET_S, kind="reset", unit="receiver")]
    until_s = MEASURED_S
    if scenario.receiver.watchdog_ms:
        faults.append(Fault(at_s=HANG_S, kind="hang", unit="receiver"))
        until_s += _OF_WATCHDOG * scenario.receiver.watchdog_ms / 1000
    short = replace(scenario, duration_s=until_s, fault=tuple(faults), requirement=())
    trace = simulate(short, start=0)
    plan = plan_of(trace)
    reply = bench.run(chip_script(short, plan, script_of(short, plan, trace)))
    times = chip_times(reply)
    if reply.head["status"] != Status.FINE or times.idle_pass is None:
        raise FirmwareError(
            f"--measure: the firmware turned its mark over {times.passes} times and then no more"
        )
    notes = []
    if scenario.receiver.watchdog_ms and times.bite is None:
        notes.append(
            f"receiver.watchdog_ms is {scenario.receiver.watchdog_ms:g}, and no watchdog reset it "
            f"while it hung for {until_s - HANG_S:.3g} s"
        )
    return Measured(
        times=times,
        settings=settings_of(short, plan, board, reply, ns_from_s(RESET_S)),
        notes=notes,
    )
