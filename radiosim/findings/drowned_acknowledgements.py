"""Acknowledgements that the other hand unit drowns (rule C4)."""

from collections.abc import Iterator

from radiosim.findings.case import Case
from radiosim.findings.pairs import Pair, other_of, pairs
from radiosim.findings.suspect import Suspect
from radiosim.measure.summary import StreamFigures

NOTABLE = 0.01
"""Share of attempts whose answer must be lost."""
FAR_M = 10_000
QUIETER_DB = 12


def suspects(case: Case) -> Iterator[Suspect]:
    """Pairs of transmitters near each other of which one loses answers."""
    scenario = case.scenario
    if scenario.air.range is None:
        return
    for pair in pairs(scenario):
        if suspect := _of(case, pair):
            yield suspect


def _of(case: Case, pair: Pair) -> Suspect | None:
    scenario, streams = case.scenario, case.summary.figures.stream
    name = max(pair, key=lambda stream: _share(streams[stream]))
    figures, other = streams[name], other_of(pair, name)
    if _share(figures) < NOTABLE:
        return None
    between_m = scenario.air.between_transmitters_m or 0.0
    quieter = scenario.transmitter[other].power_dbm - QUIETER_DB
    return Suspect(
        what=f"{other}, {between_m:g} m away, drowns the answers to {name}",
        where="air.between_transmitters_m",
        why=f"{figures.acknowledgements_lost} answers to {figures.attempts} attempts of {name} "
        "were lost",
        figure=f"stream.{name}.acknowledgements_lost",
        removed=(f"air.between_transmitters_m={FAR_M}",),
        cures=((f"transmitter.{other}.power_dbm={quieter:g}",),),
        advice="frames whose answers are lost arrive all the same; what they cost is air time",
        measure=f"count the retries of {name} with {other} switched off and on",
    )


def _share(figures: StreamFigures) -> float:
    """Answers lost, for each attempt."""
    return figures.acknowledgements_lost / max(1, figures.attempts)
