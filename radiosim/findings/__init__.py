"""What is wrong: suspects from a run's figures, proved by reruns on the same draws, and cured."""

from collections.abc import Callable, Iterator

from msgspec.structs import replace

from radiosim.engine.simulate import Engine
from radiosim.findings import (
    air_findings,
    clock_findings,
    failsafe_findings,
    program_findings,
    unit_findings,
)
from radiosim.findings.proof import Case, Suspect, prove
from radiosim.measure.summary import Finding, Summary
from radiosim.scenario import Scenario
from radiosim.scenario.changed import changed
from radiosim.scenario.power import caution_of_change

SUSPECTS: tuple[Callable[[Case], Iterator[Suspect]], ...] = (
    failsafe_findings.failsafe_cannot_work,
    failsafe_findings.fed_by_other,
    failsafe_findings.no_failsafe,
    air_findings.shared_address,
    clock_findings.clocks_beat,
    clock_findings.equal_retries,
    air_findings.out_of_range,
    air_findings.interference,
    air_findings.loss_bursts,
    program_findings.blocking_delay,
    program_findings.one_read_a_pass,
    program_findings.blocking_work,
    program_findings.deaf_receiver,
    program_findings.still_values,
    clock_findings.starved,
    program_findings.long_boot,
    program_findings.stale_values,
    failsafe_findings.lurch,
    unit_findings.hung_receiver,
    unit_findings.lost_settings,
    air_findings.drowned_acknowledgements,
    program_findings.fixed_length,
    air_findings.too_long_on_air,
    air_findings.poor_address,
    clock_findings.assumed_jitter,
)
"""What may be wrong, the worst first."""


def find(scenario: Scenario, summary: Summary, engine: Engine = "auto") -> tuple[Finding, ...]:
    """Every finding of a run that its reruns prove, in the order of SUSPECTS."""
    case = Case(scenario=scenario, summary=summary, engine=engine)
    suspects = (suspect for of_one in SUSPECTS for suspect in of_one(case))
    proved = (found for suspect in suspects if (found := prove(case, suspect)) is not None)
    return tuple(_with_caution(scenario, found) for found in proved)


def _with_caution(scenario: Scenario, found: Finding) -> Finding:
    """The finding; where its cure raises power, the caution stands behind the cure."""
    caution = caution_of_change(scenario, changed(scenario, found.set)) if found.set else ""
    if not caution:
        return found
    has_advice = not found.cure.rstrip("'").endswith(found.set[-1])
    return replace(found, cure=f"{found.cure}{'; ' if has_advice else ': '}{caution}")
