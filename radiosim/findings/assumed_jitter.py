"""Timers assumed to be exact, where it matters that no real one is (rule A1)."""

from collections.abc import Iterator

from radiosim.findings.case import Case
from radiosim.findings.pairs import beats_by_drift, longest_gap, pairs, plan_of
from radiosim.findings.suspect import Suspect

JITTER_MS = 1.0
"""What a loop that also reads sticks easily has; common practice, no source."""
SHARE = 0.25
"""Of a period, that jitter may be at most."""


def suspects(case: Case) -> Iterator[Suspect]:
    """Pairs that beat, both without jitter."""
    scenario, plan = case.scenario, plan_of(case)
    for pair in pairs(scenario):
        units = [scenario.transmitter[name] for name in pair]
        if not beats_by_drift(plan, pair) or any(unit.jitter_ms for unit in units):
            continue
        name = longest_gap(case, pair)
        period_ms = min(unit.period_ms or JITTER_MS for unit in units)
        jitter_ms = min(JITTER_MS, SHARE * period_ms)
        given = tuple(f"transmitter.{unit}.jitter_ms={jitter_ms:g}" for unit in pair)
        yield Suspect(
            what=f"{pair[0]} and {pair[1]} are assumed to sample without jitter, and the longest "
            "wait hangs on it",
            where=f"transmitter.{pair[1]}.jitter_ms",
            why=f"{jitter_ms:g} ms of jitter scatter the frames of a burst; this is a guess, and "
            "no cure",
            figure=f"stream.{name}.gap_ms.max",
            removed=given,
            cures=(),
            advice="measure the jitter and put it into the scenario "
            "(transmitter.NAME.jitter_ms); do "
            "not rely on it",
            measure="toggle a pin at each sample: the longest time between two edges less the "
            "shortest is twice the jitter at most",
        )
