"""Starts by the receiver's own program, where a scenario names one; loaded only then."""

from typing import TYPE_CHECKING

from radiosim.scenario import Scenario
from radiosim.trace import Trace
from radiosim.vehicle.vehicle import VehicleRecord, record_of, run_vehicle

if TYPE_CHECKING:
    from radiosim.firmware.own_vehicle import OwnVehicle


def own_vehicle(trace: Trace) -> "OwnVehicle":
    """Outputs and failsafe of a start by the program that its scenario names."""
    from radiosim.firmware.own_vehicle import OwnVehicle  # noqa: PLC0415 - few name a program

    return OwnVehicle(trace)


def once_built(scenario: Scenario) -> Scenario:
    """The scenario once the program that it names, if it does, is built and runs; it says so.

    FirmwareError with what is in the way, in one line.
    """
    if scenario.receiver.program is None:
        return scenario
    from radiosim.firmware.standing import with_program  # noqa: PLC0415 - few name a program

    return with_program(scenario)


def of_model(scenario: Scenario) -> Scenario:
    """The scenario with the model's own program; it says so where it names another."""
    if scenario.receiver.program is None:
        return scenario
    from radiosim.firmware.standing import without_program  # noqa: PLC0415 - few name a program

    return without_program(scenario)


def record_of_start(trace: Trace) -> VehicleRecord:
    """What was done in one start: by the program that the scenario names, or the model's.

    FirmwareError as of `OwnVehicle`.
    """
    if trace.scenario.receiver.program is None:
        return run_vehicle(trace)
    return record_of(trace, own_vehicle(trace).finish())
