"""A stream that loses its frames to the other's air time."""

from collections.abc import Iterator

from radiosim.findings.case import Case
from radiosim.findings.pairs import beats_by_drift, other_of, pairs, plan_of, without
from radiosim.findings.suspect import Suspect

STARVING = 0.9
"""Share of samples read below which a stream counts as starved here."""
LOST = 0.05
"""Share of attempts that must have met the other's frames or answers."""


def suspects(case: Case) -> Iterator[Suspect]:
    """Streams that lose much to collisions with one other that they do not drift into."""
    scenario, plan = case.scenario, plan_of(case)
    for pair in pairs(scenario):
        if beats_by_drift(plan, pair):
            continue
        for name in pair:
            figures = case.summary.figures.stream[name]
            met = figures.lost_collision + figures.lost_deaf
            is_starved = (figures.delivery_ratio or 0.0) < STARVING and figures.attempts
            if not is_starved or met < LOST * figures.attempts:
                continue
            other = other_of(pair, name)
            unit = scenario.transmitter[other]
            key, pace_ms = "period_ms", unit.period_ms
            if pace_ms is None:
                key, pace_ms = "pause_ms", unit.pause_ms
            slower = () if pace_ms is None else ((f"transmitter.{other}.{key}={2 * pace_ms:g}",),)
            yield Suspect(
                what=f"{other} takes so much of the air that {name} starves beside it",
                where=f"transmitter.{other}",
                why=f"{met} of {figures.attempts} attempts of {name} met {other}'s frames or their "
                "answers",
                figure=f"stream.{name}.delivery_ratio",
                removed=without(other, len(scenario.fault)),
                cures=slower,
                advice=f"{other} may send less often, shorter frames, or at a faster bit rate",
                measure=f"count {name}'s frames with {other} switched off and on",
                better="more",
            )
