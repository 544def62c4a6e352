"""Outputs that come alive at whatever the stick says when the link is back (rule F3)."""

from collections.abc import Iterator

from radiosim.findings.case import LURCH, Case
from radiosim.findings.drills import interruption
from radiosim.findings.suspect import Suspect
from radiosim.scenario.structs.output import Preset


def suspects(case: Case) -> Iterator[Suspect]:
    """Motors whose stream asks for nothing before failsafe ends."""
    scenario = case.scenario
    for name, failsafe in scenario.failsafe.items():
        motors = [
            (key, output)
            for key, output in scenario.output.items()
            if output.stream == name
            and output.motor is not None
            and isinstance(output.on_failsafe, Preset)
            and output.kind == "servo"
        ]
        if failsafe.resume_needs is not None or not motors:
            continue
        key, output = motors[0]
        field = max(output.mix, key=lambda part: abs(output.mix[part]))
        low, high = output.value
        cure = f'failsafe.{name}.resume_needs={{field="{field}",within={abs(high - low) / 40:g}}}'
        yield Suspect(
            what=f"{key} starts with a lurch when {name}'s link comes back with the stick off its "
            "middle",
            where=f"failsafe.{name}.resume_needs",
            why=f"{name} off and on again under way; how far {key}'s pulse jumps at once, us",
            figure=f"{LURCH}.{key}",
            removed=(cure,),
            cures=((cure,),),
            advice="outputs stay on failsafe until the stick has been near its middle",
            measure=f"wheels off the ground: switch {name} off and on with the stick held forward",
            drill=interruption(scenario, name),
        )
