"""A firmware's own times, measured on the emulated chip for its scenario."""

from dataclasses import dataclass

from msgspec.structs import replace

from radiosim.engine.plan import plan_of
from radiosim.errors import FirmwareError
from radiosim.firmware.bench import Bench
from radiosim.firmware.board import Board
from radiosim.firmware.chip import chip_script, unheard
from radiosim.firmware.chip_times import (
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


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """What a firmware was seen to do in a short start without faults but one reset."""

    times: ChipTimes
    settings: list[str]
    """KEY=VALUE of the scenario, for --set."""
    unheard: list[tuple[int, int, str]]
    """Frames before the reset that the model's radio heard and the chip's did not."""


def measured(scenario: Scenario, board: Board, bench: Bench) -> Measured:
    """Measure a firmware; FirmwareError if its board has no mark or it never turns round."""
    if "mark" not in board.pins:
        raise FirmwareError(
            "--measure: --pins lacks mark, a pin that the firmware turns over once a pass"
        )
    reset = Fault(at_s=RESET_S, kind="reset", unit="receiver")
    short = replace(scenario, duration_s=MEASURED_S, fault=(reset,), requirement=())
    trace = simulate(short, start=0)
    plan = plan_of(trace)
    reply = bench.run(chip_script(short, plan, script_of(short, plan, trace)))
    times = chip_times(reply)
    if reply.head["status"] != Status.FINE or times.idle_pass is None:
        raise FirmwareError(
            f"--measure: the firmware turned its mark over {times.passes} times and then no more"
        )
    reset_ns = ns_from_s(RESET_S)
    return Measured(
        times=times,
        settings=settings_of(short, plan, board, reply, reset_ns),
        unheard=[line for line in unheard(reply.seen) if line[1] < reset_ns],
    )
