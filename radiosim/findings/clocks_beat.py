"""Two schedules that creep into each other and stay there (facts 5)."""

from collections.abc import Iterator

from radiosim.findings.case import Case
from radiosim.findings.pairs import (
    beats_by_drift,
    clear_period_ms,
    longest_gap,
    ms,
    other_of,
    pairs,
    plan_of,
    windows_ns,
    without,
)
from radiosim.findings.suspect import Suspect
from radiosim.scenario import Scenario

MEASURE = (
    "let both run for an hour on the bench, log the instant of every read, and look at the longest "
    "gap, not at the share of frames"
)


def suspects(case: Case) -> Iterator[Suspect]:
    """Pairs whose periods are within a + b + jitter of a multiple of one another."""
    scenario, plan = case.scenario, plan_of(case)
    for pair in pairs(scenario):
        streams = [case.summary.figures.stream[name] for name in pair]
        if not beats_by_drift(plan, pair) or not any(s.lost_collision for s in streams):
            continue
        name = longest_gap(case, pair)
        other, clear_ms = other_of(pair, name), clear_period_ms(case, plan, pair)
        first, second = (scenario.transmitter[unit].period_ms for unit in pair)
        yield Suspect(
            what=f"the clocks of {pair[0]} and {pair[1]} drift into each other, and stay there "
            "for seconds",
            where=f"transmitter.{pair[1]}.period_ms",
            # A unit that is switched off makes a hole of its own, beside which others look small.
            drill=("fault=[]",),
            why=f"periods of {first:g} and {second:g} ms are less than {ms(windows_ns(plan, pair))}"
            " ms (both frames, answers and jitter) from a whole multiple of one another; "
            f"{other} silent leaves {name} its values{_said(scenario)}",
            figure=f"stream.{name}.gap_ms.max",
            removed=without(other, 0),
            cures=() if clear_ms is None else ((f"transmitter.{pair[1]}.period_ms={clear_ms}",),),
            advice="no period of the other's, nor near a multiple of it: near ones meet just as "
            "equal ones do",
            measure=MEASURE,
        )


def _said(scenario: Scenario) -> str:
    return " (the scenario's own faults left out)" if scenario.fault else ""
