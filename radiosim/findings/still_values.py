"""Frames that say the same and are taken for duplicates (rule D3)."""

from collections.abc import Iterator

from radiosim.counted import counted
from radiosim.findings.case import Case
from radiosim.findings.counters import counter_for, counter_of
from radiosim.findings.suspect import Suspect


def suspects(case: Case) -> Iterator[Suspect]:
    """Streams without a counter that lose good frames as duplicates."""
    scenario = case.scenario
    for name, unit in scenario.transmitter.items():
        figures = case.summary.figures.stream[name]
        counter = counter_for(scenario, name)
        if unit.acknowledge is False or counter_of(scenario, name) or not figures.duplicates:
            continue
        if not counter:
            continue
        trips = figures.failsafe is not None and figures.failsafe.nuisance_trips > 0
        leaf = "failsafe.nuisance_trips" if trips else "duplicates"
        yield Suspect(
            what=f"{name}'s frames say the same while nothing moves: after three lost in a row "
            "the next good one is taken for a duplicate and never handed on",
            where=f"layout.{unit.layout}",
            why=f"{counted(figures.duplicates, 'frame')} taken for duplicates; the packet number "
            "has two bits and comes round after four",
            figure=f"stream.{name}.{leaf}",
            removed=counter,
            cures=(counter,),
            advice="a counter that goes up with every frame makes each one new",
            measure="hold the sticks still, cover the antenna for some frames, and watch whether "
            "the receiver's program sees the first one after it",
        )
