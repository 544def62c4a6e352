"""What is wrong, by rules over a scene and its figures: one file a finding."""

from collections.abc import Callable

from radiosim.findings import failsafe_cannot_work
from radiosim.measure.summary import Finding, Summary
from radiosim.scenario import Scenario

FINDERS: tuple[Callable[[Scenario, Summary], tuple[Finding, ...]], ...] = (
    failsafe_cannot_work.find,
)


def find(scenario: Scenario, summary: Summary) -> tuple[Finding, ...]:
    """Every finding of a run, in the order of FINDERS."""
    return tuple(finding for finder in FINDERS for finding in finder(scenario, summary))
