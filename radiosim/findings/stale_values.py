"""A transmitter that hangs and repeats itself feeds its timer for ever (rule F1)."""

from collections.abc import Iterator

from radiosim.findings.case import FAULT, Case
from radiosim.findings.counters import counter_for, counter_of
from radiosim.findings.drills import acting_outputs, drill
from radiosim.findings.suspect import Overrides, Suspect
from radiosim.scenario import Scenario


def suspects(case: Case) -> Iterator[Suspect]:
    """Failsafes that watch no field."""
    scenario = case.scenario
    for name, failsafe in scenario.failsafe.items():
        cure = _watched(scenario, name)
        if failsafe.watch_field or not acting_outputs(scenario, name) or not cure:
            continue
        yield Suspect(
            what=f"no timeout catches {name} when it hangs and repeats its last values",
            where=f"failsafe.{name}.watch_field",
            why=f"{name}'s values stale for good, its radio still sending",
            figure=FAULT,
            removed=cure,
            cures=(cure,),
            advice="feed the timer only when a counter in the frame has changed",
            measure=f"wheels off the ground: make {name}'s firmware send one frame again and again",
            drill=drill(scenario, name, "stale"),
            share=0.0,
        )


def _watched(scenario: Scenario, stream: str) -> Overrides:
    field = counter_of(scenario, stream)
    if field:
        return (f"failsafe.{stream}.watch_field={field}",)
    counter = counter_for(scenario, stream)
    if not counter:
        return ()
    added = "count" if "fields[" in counter[0] else counter[0].split(".")[3]
    return (*counter, f"failsafe.{stream}.watch_field={added}")
