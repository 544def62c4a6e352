"""One point of a tuning: a scene with some settings, judged over its starts."""

from collections.abc import Mapping
from typing import Any

import msgspec

from radiosim.engine.choice import Engine
from radiosim.engine.plan import make_plan
from radiosim.errors import ScenarioError
from radiosim.measure.summary import RequirementFigures, StreamFigures, Summary
from radiosim.scenario import Scenario
from radiosim.scenario.changed import changed
from radiosim.scenario.structs.requirement import Requirement
from radiosim.study.starts import simulate_starts
from radiosim.study.tune.meetings import pairs_of

USUAL_HOLE_MS, USUAL_LATENCY_MS = 200.0, 100.0
"""What a builder is taken to want who asks for nothing (common practice, no source)."""
CAUSES = ("collision", "deaf", "range", "chance", "full FIFO")


def with_requirements(scenario: Scenario) -> tuple[Scenario, tuple[str, ...]]:
    """The scene with requirements, and those that were taken because it has none."""
    if scenario.requirement:
        return scenario, ()
    wanted = []
    for name in scenario.transmitter:
        timer = scenario.failsafe.get(name)
        hole_ms = USUAL_HOLE_MS if timer is None else timer.timeout_ms
        wanted.append(Requirement(figure=f"stream.{name}.hole_ms", at_most=hole_ms))
    wanted += [
        Requirement(figure=f"output.{name}.latency_ms.p99", at_most=USUAL_LATENCY_MS)
        for name, output in scenario.output.items()
        if output.kind == "servo"
    ]
    said = tuple(f"{it.figure} at most {it.at_most:g}" for it in wanted)
    return msgspec.structs.replace(scenario, requirement=tuple(wanted)), said


def judged(scenario: Scenario, engine: Engine, lines: tuple[str, ...]) -> Mapping[str, Any]:
    """The row of one point; a scene that its settings make unsound is a row too, refused."""
    try:
        scene = changed(scenario, lines)
    except ScenarioError as error:
        return {"refused": str(error)}
    summary = simulate_starts(scene, engine=engine, workers=1)
    streams = summary.figures.stream
    margins = [_margin(it) for it in summary.requirements]
    known = [margin for margin in margins if margin is not None]
    return {
        "refused": "",
        "margin": min(known) if len(known) == len(margins) and known else None,
        "measured": {it.figure: it.measured for it in summary.requirements},
        "air_time_share": sum(it.air_time_share for it in streams.values()),
        "charge_mah_per_hour": sum(it.charge_mah_per_hour or 0.0 for it in streams.values()),
        "latency_p99_ms": _latency(summary),
        "streams": {name: _stream(it) for name, it in streams.items()},
        "cause": _cause(summary),
        "pairs": [msgspec.to_builtins(pair) for pair in pairs_of(make_plan(scene, 0))],
    }


def margin_of(
    measured: float | None, at_least: float | None, at_most: float | None
) -> float | None:
    """How far a figure is on the right side of its limit, as a share of it; below 0: it misses.

    None: it was not measured. A limit of 0 is held in full, or missed by all that is measured.
    """
    if measured is None:
        return None
    found = []
    if at_most is not None:
        found.append((at_most - measured) / at_most if at_most else _at_zero(-measured))
    if at_least is not None:
        found.append((measured - at_least) / abs(at_least) if at_least else _at_zero(measured))
    return min(found)


def _at_zero(beyond: float) -> float:
    return 1.0 if beyond >= 0 else beyond


def _margin(it: RequirementFigures) -> float | None:
    """Of one requirement; a fault that must be noticed is, or is not: there is no more to gain."""
    margin = margin_of(it.measured, it.at_least, it.at_most)
    is_noticed = it.figure.endswith(".entries_true") and margin is not None and margin >= 0
    return 1.0 if is_noticed else margin


def _stream(figures: StreamFigures) -> dict[str, float | None]:
    timer = figures.failsafe
    return {
        "update_rate_hz": figures.update_rate_hz,
        "delivery_ratio": figures.delivery_ratio,
        "hole_ms": figures.hole_ms,
        "latency_p99_ms": figures.latency_ms.p99,
        "nuisance_per_hour": None if timer is None else timer.nuisance_per_hour,
    }


def _latency(summary: Summary) -> float | None:
    """Of the slowest stream."""
    found = [it.latency_ms.p99 for it in summary.figures.stream.values()]
    there = [value for value in found if value is not None]
    return max(there, default=None)


def _cause(summary: Summary) -> str:
    """What took most attempts."""
    streams = summary.figures.stream.values()
    lost = {
        "collision": sum(it.lost_collision for it in streams),
        "deaf": sum(it.lost_deaf for it in streams),
        "range": sum(it.lost_range for it in streams),
        "chance": sum(it.lost_chance for it in streams),
        "full FIFO": sum(it.fifo_dropped for it in streams),
    }
    return max(CAUSES, key=lambda cause: lost[cause])
