"""What is wrong: suspects from a run's figures, proved by reruns on the same draws, and cured."""

from collections.abc import Callable, Iterator

from radiosim.engine.choice import Engine
from radiosim.findings import (
    assumed_jitter,
    blocking_delay,
    blocking_work,
    clocks_beat,
    deaf_receiver,
    drowned_acknowledgements,
    equal_retries,
    failsafe_cannot_work,
    fed_by_other,
    fixed_length,
    interference,
    long_boot,
    loss_bursts,
    lurch,
    medium_use,
    no_failsafe,
    one_read_a_pass,
    out_of_range,
    poor_address,
    shared_address,
    stale_values,
    starved,
    still_values,
)
from radiosim.findings.case import Case
from radiosim.findings.prove import prove
from radiosim.findings.suspect import Suspect
from radiosim.measure.summary import Finding, Summary
from radiosim.scenario import Scenario

SUSPECTS: tuple[Callable[[Case], Iterator[Suspect]], ...] = (
    failsafe_cannot_work.suspects,
    fed_by_other.suspects,
    no_failsafe.suspects,
    shared_address.suspects,
    clocks_beat.suspects,
    equal_retries.suspects,
    out_of_range.suspects,
    interference.suspects,
    loss_bursts.suspects,
    blocking_delay.suspects,
    one_read_a_pass.suspects,
    blocking_work.suspects,
    deaf_receiver.suspects,
    still_values.suspects,
    starved.suspects,
    long_boot.suspects,
    stale_values.suspects,
    lurch.suspects,
    drowned_acknowledgements.suspects,
    fixed_length.suspects,
    medium_use.suspects,
    poor_address.suspects,
    assumed_jitter.suspects,
)
"""What may be wrong, the worst first."""


def find(scenario: Scenario, summary: Summary, engine: Engine = "auto") -> tuple[Finding, ...]:
    """Every finding of a run that its reruns prove, in the order of SUSPECTS."""
    case = Case(scenario=scenario, summary=summary, engine=engine)
    suspects = (suspect for of_one in SUSPECTS for suspect in of_one(case))
    return tuple(found for suspect in suspects if (found := prove(case, suspect)) is not None)
