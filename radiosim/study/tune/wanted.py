"""What a tuning asks of a scenario: its requirements, or the usual ones; and what that needs."""

import msgspec

from radiosim.scenario import Scenario
from radiosim.scenario.structs.requirement import Requirement
from radiosim.scenario.usual import USUAL_GAP_MS, USUAL_LATENCY_MS

ELSEWHERE = "worst."
"""Stopping times, which drills judge."""


def with_requirements(scenario: Scenario) -> tuple[Scenario, tuple[str, ...]]:
    """The scenario with requirements that can be judged here, and those taken if it has none."""
    asked = tuple(it for it in scenario.requirement if not it.figure.startswith(ELSEWHERE))
    if asked:
        return msgspec.structs.replace(scenario, requirement=asked), ()
    wanted = []
    for name in scenario.transmitter:
        timer = scenario.failsafe.get(name)
        longest_gap_ms = USUAL_GAP_MS if timer is None else timer.timeout_ms
        wanted.append(Requirement(figure=f"stream.{name}.gap_ms.max", at_most=longest_gap_ms))
    wanted += [
        Requirement(figure=f"output.{name}.latency_ms.p99", at_most=USUAL_LATENCY_MS)
        for name, output in scenario.output.items()
        if output.kind == "servo"
    ]
    said = tuple(f"{it.figure} at most {it.at_most:g}" for it in wanted)
    return msgspec.structs.replace(scenario, requirement=tuple(wanted)), said


def lean(scenario: Scenario, *figures: str) -> Scenario:
    """The scenario without the outputs and servos that none of its requirements or figures is
    about.

    They do not act back on the link: all else stays the same, and takes less time.
    """
    paths = [*figures, *(it.figure for it in scenario.requirement)]
    asked = [path.split(".", 2)[1:] for path in paths if path.startswith("output.")]
    named, turned = {name for name, _ in asked}, {name for name, it in asked if "servo" in it}
    kept = {
        name: output if name in turned else msgspec.structs.replace(output, servo=None)
        for name, output in scenario.output.items()
        if name in named
    }
    return msgspec.structs.replace(scenario, output=kept)
