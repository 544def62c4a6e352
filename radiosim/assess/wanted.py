"""What a builder would require of a scenario that requires nothing, and whether it would hold."""

from radiosim.measure.figures import flat
from radiosim.measure.requirements import holds
from radiosim.measure.summary import Summary
from radiosim.scenario import Scenario
from radiosim.scenario.complete import USUAL_GAP_MS, USUAL_LATENCY_MS, USUAL_WAIT_MS
from radiosim.scenario.danger import outputs_by_danger
from radiosim.scenario.structs.failsafe_and_fault import Requirement


def wanted(scenario: Scenario) -> tuple[Requirement, ...]:
    """The requirements that `radiosim new` writes, for the streams and outputs of a scenario."""
    found: list[tuple[str, float]] = []
    for name in scenario.transmitter:
        if name in scenario.failsafe:
            found.append((f"stream.{name}.failsafe.nuisance_trips", 0.0))
        else:
            found.append((f"stream.{name}.gap_ms.max", USUAL_GAP_MS))
        found.append((f"stream.{name}.gap_ms.p99", USUAL_WAIT_MS))
    for name in outputs_by_danger(scenario, scenario.output):
        if scenario.output[name].kind != "pin":
            found.append((f"output.{name}.latency_ms.p99", USUAL_LATENCY_MS))
    return tuple(Requirement(figure=figure, at_most=most) for figure, most in found)


def wanted_lines(scenario: Scenario) -> tuple[str, ...]:
    """The same as `KEY=VALUE` lines, as `--set` takes them, for a scenario without requirements."""
    return tuple(
        line
        for number, asked in enumerate(wanted(scenario))
        for line in (
            f"requirement.{number}.figure={asked.figure}",
            f"requirement.{number}.at_most={asked.at_most:g}",
        )
    )


def wanted_but_missed(summary: Summary, scenario: Scenario) -> tuple[str, ...]:
    """Figures of `wanted` that would not hold in every start of a run, or that it does not have."""
    figures = flat(summary.figures)
    missed = []
    for asked in wanted(scenario):
        worst = summary.worst.get(asked.figure)
        value = figures.get(asked.figure) if worst is None else worst.value
        if value is None or not holds(value, asked):
            missed.append(asked.figure)
    return tuple(missed)
