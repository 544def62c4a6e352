"""A unit that comes back late after a reset in flight (rules A5 and E3)."""

from collections.abc import Iterator

from radiosim.findings.case import Case
from radiosim.findings.suspect import Suspect

LONG_S = 0.5
"""Boots shorter than this are no longer than a usual failsafe timeout (facts 9: 0.1 to 1 s)."""
SHORT_S = 0.2
RESTARTS = ("power_off", "power_on", "reset", "brownout")


def suspects(case: Case) -> Iterator[Suspect]:
    """Units that a fault restarts, and that take long to boot."""
    scenario = case.scenario
    for unit in dict.fromkeys(f.unit for f in scenario.fault if f.kind in RESTARTS):
        described = scenario.transmitter.get(unit, scenario.receiver)
        key = "receiver" if unit == "receiver" else f"transmitter.{unit}"
        if described.boot_s < LONG_S:
            continue
        streams = [unit] if unit in scenario.transmitter else list(scenario.transmitter)
        name = max(streams, key=lambda stream: case.summary.figures.stream[stream].gap_ms.max)
        yield Suspect(
            what=f"{unit} is away for its whole boot when something resets it under way",
            where=f"{key}.boot_s",
            why=f"it boots and calibrates for {described.boot_s:g} s before it works again",
            figure=f"stream.{name}.gap_ms.max",
            removed=(f"{key}.boot_s=0",),
            cures=((f"{key}.boot_s={SHORT_S:g}",),),
            advice="keep the calibration in memory, and calibrate only when asked to",
            measure=f"reset {unit} on the bench and take the time until the first new value",
        )
