"""Faults that reruns add, so that a failsafe shows what it does."""

from radiosim.findings.suspect import Overrides
from radiosim.scenario import Scenario

LATE_S = 2.0
"""Time for all to be up and running before the fault, and to see its end."""


def drill(scenario: Scenario, unit: str, kind: str) -> Overrides:
    """One fault of one unit, for good, in place of the scenario's own."""
    at_s = _up_s(scenario) + LATE_S
    longest_s = max((f.timeout_ms for f in scenario.failsafe.values()), default=0.0) / 1000
    return (
        f'fault=[{{at_s={at_s:g},kind="{kind}",unit="{unit}"}}]',
        f"duration_s={at_s + 2 * longest_s + LATE_S:g}",
        "requirement=[]",
    )


def interruption(scenario: Scenario, unit: str) -> Overrides:
    """One unit off until its failsafe is on, and back again, in place of the scenario's own
    faults."""
    at_s = _up_s(scenario) + LATE_S
    for_s = 2 * scenario.failsafe[unit].timeout_ms / 1000 + LATE_S
    # Long enough for a stick that moves to pass its middle.
    ends_s = at_s + for_s + scenario.transmitter[unit].boot_s + LATE_S
    return (
        f'fault=[{{at_s={at_s:g},for_s={for_s:g},kind="power_off",unit="{unit}"}}]',
        f"duration_s={ends_s + LATE_S:g}",
        "requirement=[]",
    )


def acting_outputs(scenario: Scenario, stream: str) -> tuple[str, ...]:
    """Outputs of a stream that do something on failsafe."""
    return tuple(
        name
        for name, output in scenario.output.items()
        if output.stream == stream and output.on_failsafe != "hold"
    )


def _up_s(scenario: Scenario) -> float:
    return max(
        scenario.receiver.boot_s,
        *(unit.start_s + unit.boot_s for unit in scenario.transmitter.values()),
    )
