"""A failsafe timer that is looked at less often than it runs out (rule F2)."""

from radiosim.measure.summary import Finding, Summary
from radiosim.scenario import Scenario


def find(scenario: Scenario, summary: Summary) -> tuple[Finding, ...]:
    """One finding for each such timer."""
    findings = []
    for stream, stopping in summary.stopping.items():
        if not stopping.cannot_work:
            continue
        findings.append(
            Finding(
                what=f"this failsafe cannot work: {stopping.cannot_work}",
                where=f"failsafe.{stream}.timeout_ms",
                proof={"timeout_ms": scenario.failsafe[stream].timeout_ms},
                cure="shorten delay_ms, work or reads of the receiver's pass, or raise the timeout",
            )
        )
    return tuple(findings)
