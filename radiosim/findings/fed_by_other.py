"""A timer that any stream feeds (rule F1)."""

from collections.abc import Iterator

from radiosim.findings.case import FAULT, Case
from radiosim.findings.drills import acting_outputs, drill
from radiosim.findings.suspect import Suspect


def suspects(case: Case) -> Iterator[Suspect]:
    """Failsafes fed by any stream, where there is another."""
    scenario = case.scenario
    for name, failsafe in scenario.failsafe.items():
        if failsafe.fed_by != "any" or len(scenario.transmitter) < 2:
            continue
        if not acting_outputs(scenario, name):
            continue
        key = f"failsafe.{name}.fed_by"
        yield Suspect(
            what=f"nothing but another stream feeds {name}'s failsafe once {name} is silent: it "
            "never trips",
            where=key,
            why=f"{name} switched off for good while the others go on sending",
            figure=FAULT,
            removed=(f"{key}=own",),
            cures=((f"{key}=own",),),
            advice="note the time of the last frame for each stream apart",
            measure=f"wheels off the ground: switch {name} off under way, the others on",
            drill=drill(scenario, name, "power_off"),
            share=0.0,
        )
