"""The parts of a study of drills, and what the drills of each start have shown."""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import msgspec
from msgspec.structs import replace

from radiosim.engine.simulate import Engine
from radiosim.scenario import Scenario
from radiosim.scenario.danger import outputs_by_danger
from radiosim.study.amount import Amount
from radiosim.study.drill.drill_kinds import Drill, Limit, limit_of
from radiosim.study.drill.judged import figures_of
from radiosim.study.drill.observed import (
    Point,
    alive_others,
    course_of,
    fault_spans,
    observed,
    unprovoked,
)
from radiosim.study.drill.points import Rhythm, phased, rhythm_at, struck
from radiosim.study.drill.results import DrillFigures, OtherFigures
from radiosim.study.drill.trade_off import trips_of
from radiosim.study.journal import Row

TRADE_OFF: Literal["trade_off"] = "trade_off"
DRILLS: Literal["drills"] = "drills"
Limits = tuple[Mapping[str, Limit], ...]
"""Limits by drill, then by output that it strikes."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """What is done at once."""

    of: Literal["trade_off", "drills"]
    start: int


@dataclass(frozen=True, slots=True, kw_only=True)
class OfStart:
    """What the drills of one start have shown."""

    points: tuple[dict[str, tuple[Point, ...]], ...]
    """Points by drill, then by output."""
    others: tuple[dict[str, int], ...]
    """By drill, by output that it must leave alone: how often its failsafe tripped."""
    others_alive: tuple[dict[str, int], ...]
    """By drill, by such an output: at how many faults it was alive."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """All that the parts have in common."""

    scenario: Scenario
    quiet: Scenario
    """The scenario without faults, for the trade-off."""
    timeouts_ms: tuple[float, ...]
    drills: tuple[Drill, ...]
    limits: Limits
    rhythm: Rhythm
    starts: int
    """Over how many starts the phases of the drills are spread."""
    engine: Engine
    is_even: bool = True
    """Even phases find the worst with the fewest starts; drawn ones are what bands are made of."""

    @property
    def drilled_s(self) -> float:
        """Simulated time of all drills."""
        cycles_s = self.rhythm.cycles * self.rhythm.cycle_s
        more_s = math.fsum(
            rhythm_at(self.scenario, drill, self.rhythm).more_s for drill in self.drills
        )
        longer_s = self.rhythm.cycles * more_s
        return self.starts * (len(self.drills) * (self.rhythm.first_s + cycles_s) + longer_s)

    def amounts(self, quiet_starts: int) -> tuple[Amount, ...]:
        """How much there is to simulate, with so many starts of the trade-off."""
        drilled = Amount(
            scenario=phased(self.scenario, 0, is_even=self.is_even),
            simulated_s=self.drilled_s,
            simulate=lambda shorter: course_of(shorter, 0, self.engine),
        )
        weighed = Amount(
            scenario=self.quiet,
            simulated_s=quiet_starts * self.quiet.duration_s,
            simulate=lambda shorter: trips_of(shorter, 0, self.engine, self.timeouts_ms),
        )
        return (drilled, weighed) if quiet_starts else (drilled,)

    def row_of(self, part: Part) -> Row:
        """What one part has shown: `Trips`, or `OfStart`, as JSON holds them."""
        found: Any
        if part.of == TRADE_OFF:
            found = trips_of(self.quiet, part.start, self.engine, self.timeouts_ms)
        else:
            found = self.drilled(part.start)
        row: Row = msgspec.to_builtins(found)
        return row

    def drilled(self, start: int) -> OfStart:
        """One start of every drill: the same draws, but for the faults."""
        base = phased(self.scenario, start, is_even=self.is_even)
        points, others, others_alive = [], [], []
        for drill, limit in zip(self.drills, self.limits, strict=True):
            struck_scenario, strikes = struck(base, drill, self.rhythm, start, self.starts)
            course = course_of(struck_scenario, start, self.engine)
            due_ns = {name: found.bound.total_ns for name, found in limit.items()}
            points.append(observed(course, drill, strikes, due_ns))
            spans_ns = fault_spans(course, drill, strikes)
            trips = unprovoked(course, drill, spans_ns)
            if any(trips.values()):
                # By chance, or by the fault? The same start without it tells.
                undisturbed = course_of(replace(struck_scenario, fault=()), start, self.engine)
                calm = unprovoked(undisturbed, drill, spans_ns)
                trips = {name: max(0, count - calm[name]) for name, count in trips.items()}
            others.append(trips)
            others_alive.append(alive_others(course, drill, strikes))
        return OfStart(points=tuple(points), others=tuple(others), others_alive=tuple(others_alive))


def limits_of(scenario: Scenario, drills: Sequence[Drill]) -> Limits:
    """The limits of every output that some drills strike, the worst that may go on first."""
    return tuple(
        {
            name: limit_of(scenario, drill, name)
            for name in outputs_by_danger(scenario, scenario.output)
            if scenario.output[name].stream in drill.streams(scenario)
        }
        for drill in drills
    )


def drill_figures(work: Work, found: Sequence[OfStart]) -> Iterator[DrillFigures]:
    """Every output at every drill, over all starts."""
    for number, (drill, limit) in enumerate(zip(work.drills, work.limits, strict=True)):
        for name in limit:
            points = [point for start in found for point in start.points[number][name]]
            yield figures_of(work.scenario, drill, name, limit[name], points)


def other_figures(work: Work, found: Sequence[OfStart]) -> Iterator[OtherFigures]:
    """Every output that a drill must leave alone, over all starts."""
    for number, drill in enumerate(work.drills):
        for name in outputs_by_danger(work.scenario, found[0].others[number]):
            yield OtherFigures(
                fault=drill.told_as,
                unit=drill.unit,
                output=name,
                stream=work.scenario.output[name].stream,
                repeats=sum(start.others_alive[number][name] for start in found),
                trips=sum(start.others[number][name] for start in found),
            )
