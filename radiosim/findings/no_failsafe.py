"""A stream whose outputs nothing stops (rule F1)."""

from collections.abc import Iterator

from radiosim.findings.case import FAULT, Case
from radiosim.findings.drills import acting_outputs, drill
from radiosim.findings.suspect import Suspect

PERIODS = 25
"""Periods without a value that a timeout waits for, at most half a second (facts 9: failsafe
delays of 0.1 to 1 s, common practice, no source)."""


def suspects(case: Case) -> Iterator[Suspect]:
    """Streams without a timer that drive something."""
    scenario = case.scenario
    for name, unit in scenario.transmitter.items():
        outputs = [key for key, output in scenario.output.items() if output.stream == name]
        if name in scenario.failsafe or not outputs:
            continue
        period_ms = unit.period_ms or unit.pause_ms or 20.0
        timeout_ms = min(500.0, PERIODS * period_ms)
        cure: tuple[str, ...] = (f"failsafe.{name}.timeout_ms={timeout_ms:g}",)
        if not acting_outputs(scenario, name):
            cure = (*cure, *(f"output.{key}.on_failsafe=off" for key in outputs))
        yield Suspect(
            what=f"{name} has no failsafe: when its transmitter goes silent, nothing stops "
            f"{', '.join(outputs)}",
            where=f"failsafe.{name}",
            why=f"{name} switched off for good",
            figure=FAULT,
            removed=cure,
            cures=(cure,),
            advice="choose what each output shall do then (on_failsafe)",
            measure=f"wheels off the ground: switch {name} off and wait",
            drill=drill(scenario, name, "power_off"),
            share=0.0,
        )
