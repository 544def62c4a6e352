"""A failsafe timer that is looked at less often than it runs out (rule F2)."""

from radiosim.engine.plan import make_plan
from radiosim.measure.summary import Finding, Summary
from radiosim.scenario import Scenario
from radiosim.units import ms_from_ns
from radiosim.vehicle.stopping import longest_pass_ns, with_slowest_clock

CURE = "a pass shorter than the timeout (less delay_ms, work or reading), or a longer timeout"


def find(scenario: Scenario, summary: Summary) -> tuple[Finding, ...]:
    """One finding for each such timer.

    Proof in ms: `before` is the longest pass, left out if it has no end; `after` is the timeout,
    which it must stay below.
    """
    return tuple(
        Finding(
            what=f"this failsafe cannot work: {stopping.cannot_work}",
            where=f"failsafe.{stream}.timeout_ms",
            proof={
                **_longest_pass(scenario, summary.first_start),
                "after": scenario.failsafe[stream].timeout_ms,
            },
            cure=CURE,
        )
        for stream, stopping in summary.stopping.items()
        if stopping.cannot_work
    )


def _longest_pass(scenario: Scenario, start: int) -> dict[str, float]:
    pass_ns = longest_pass_ns(make_plan(with_slowest_clock(scenario), start))
    return {} if pass_ns is None else {"before": ms_from_ns(pass_ns)}
