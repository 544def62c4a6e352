"""Shipped scenarios, cut short, and what their tests ask of them."""

from functools import cache

from radiosim.measure.summary import FaultFigures, StreamFigures, Summary
from radiosim.scenario import load
from radiosim.scenario.shipped import shipped_scenario
from radiosim.study.starts import simulate_starts


def text_of(name: str) -> str:
    given = shipped_scenario(name)
    assert given is not None
    return given.path.read_text(encoding="utf-8")


@cache
def summary_of(name: str, starts: int, *overrides: str) -> Summary:
    given = shipped_scenario(name)
    assert given is not None
    return simulate_starts(load(given.path, overrides), count=starts, workers=1)


def the_only_fault(summary: Summary) -> FaultFigures:
    (fault,) = summary.figures.faults
    return fault


def longest_gap_of(stream: StreamFigures) -> float:
    assert stream.gap_ms.max is not None
    return stream.gap_ms.max


def verdicts(summary: Summary) -> dict[str, bool | None]:
    return {requirement.figure: requirement.ok for requirement in summary.requirements}
