"""What the live page shows once a slider rests: pictures of one start, and where periods beat."""

from collections.abc import Iterator, Sequence
from typing import Any

import msgspec

from radiosim.assess.in_words import worst_start
from radiosim.engine.simulate import MOST_KEPT_BYTES, trace_of
from radiosim.errors import TraceError
from radiosim.measure.summary import Summary
from radiosim.report.figures.of_run import figures_of_start
from radiosim.report.live.controls import Control
from radiosim.results.document import Figure
from radiosim.scenario import Scenario
from radiosim.study.live.looks import IsOutdated, Outdated, watched
from radiosim.study.tune.period_pairs import pairs_of
from radiosim.vehicle.feedback import flow

PACES = ("period_ms", "pause_ms")


def picture(figure: Figure) -> dict[str, Any]:
    """A figure without its painting."""
    return {
        "name": figure.name,
        "title": figure.title,
        "text": figure.text,
        "data": figure.data,
    }


def pictures(
    scenario: Scenario, summary: Summary, is_outdated: IsOutdated
) -> Iterator[dict[str, Any]]:
    """Pictures of the start with the longest gap, which is simulated once more.

    None of a start that is too long to be kept. Raises Outdated.
    """
    passing = watched(flow(scenario, start=worst_start(summary)), is_outdated)
    try:
        trace = trace_of(passing, MOST_KEPT_BYTES)
    except TraceError:
        return
    for figure in figures_of_start(trace):
        yield {"kind": "figure", "figure": picture(figure)}
        if is_outdated():
            raise Outdated


def marks(
    scenario: Scenario, controls: Sequence[Control], is_outdated: IsOutdated
) -> Iterator[dict[str, Any]]:
    """Where on the slider of a period it would beat with another, in closed form.

    Raises Outdated.
    """
    found: dict[str, list[bool]] = {}
    for control in controls:
        pace = control.key.rpartition(".")[2]
        if control.group not in scenario.transmitter or pace not in PACES:
            continue
        found[control.key] = []
        for value in control.values:
            if is_outdated():
                raise Outdated
            there = _with_pace(scenario, control.group, pace, value)
            beating = (pair for pair in pairs_of(there) if pair.is_beating)
            found[control.key].append(any(control.group in (p.first, p.second) for p in beating))
    if found:
        yield {"kind": "meet", "marks": found}


def _with_pace(scenario: Scenario, name: str, pace: str, ms: float) -> Scenario:
    unit = msgspec.structs.replace(scenario.transmitter[name], **{pace: ms})
    return msgspec.structs.replace(scenario, transmitter={**scenario.transmitter, name: unit})
