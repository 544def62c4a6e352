"""The parts of a drill that processes work on: one start of all its faults, or of the trade."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

import msgspec
from msgspec.structs import replace

from radiosim.engine.choice import Engine
from radiosim.scenario import Scenario
from radiosim.study.drill.kinds import Drill
from radiosim.study.drill.limits import Limit
from radiosim.study.drill.observed import (
    Point,
    alive_others,
    course_of,
    fault_spans,
    observed,
    unprovoked,
)
from radiosim.study.drill.points import Rhythm, phased, struck
from radiosim.study.drill.trade import trips_of
from radiosim.study.runner.journal import Row

TRADE: Literal["trade"] = "trade"
DRILLS: Literal["drills"] = "drills"
Limits = tuple[Mapping[str, Limit], ...]
"""By drill, by output that it strikes."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """What is done at once."""

    of: Literal["trade", "drills"]
    start: int


@dataclass(frozen=True, slots=True, kw_only=True)
class OfStart:
    """What the drills of one start have shown."""

    points: tuple[dict[str, tuple[Point, ...]], ...]
    """By drill, by output."""
    others: tuple[dict[str, int], ...]
    """By drill, by output that it must leave alone: how often it stopped."""
    others_alive: tuple[dict[str, int], ...]
    """By drill, by such an output: at how many faults it was alive."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """All that the parts have in common."""

    scenario: Scenario
    quiet: Scenario
    """Without faults, for the trade."""
    timeouts_ms: tuple[float, ...]
    drills: tuple[Drill, ...]
    limits: Limits
    rhythm: Rhythm
    starts: int
    """Over how many starts the phases of the drills are spread."""
    engine: Engine
    is_even: bool = True
    """Even phases find the worst with the fewest starts; drawn ones are what bands are made of."""

    def row_of(self, part: Part) -> Row:
        """What one part has shown: `Trips`, or `OfStart`, as JSON holds them."""
        found: Any
        if part.of == TRADE:
            found = trips_of(self.quiet, part.start, self.engine, self.timeouts_ms)
        else:
            found = self._drilled(part.start)
        row: Row = msgspec.to_builtins(found)
        return row

    def _drilled(self, start: int) -> OfStart:
        """One start of every drill: the same draws, but for the faults."""
        base = phased(self.scenario, start, is_even=self.is_even)
        points, others, others_alive = [], [], []
        for drill, limit in zip(self.drills, self.limits, strict=True):
            struck_scenario, strikes = struck(base, drill, self.rhythm, start, self.starts)
            course = course_of(struck_scenario, start, self.engine)
            due_ns = {name: found.bound.total_ns for name, found in limit.items()}
            points.append(observed(course, drill, strikes, due_ns))
            spans_ns = fault_spans(course, drill, strikes)
            stops = unprovoked(course, drill, spans_ns)
            if any(stops.values()):
                # By chance, or by the fault? The same start without it tells.
                undisturbed = course_of(replace(struck_scenario, fault=()), start, self.engine)
                calm = unprovoked(undisturbed, drill, spans_ns)
                stops = {name: max(0, count - calm[name]) for name, count in stops.items()}
            others.append(stops)
            others_alive.append(alive_others(course, drill, strikes))
        return OfStart(points=tuple(points), others=tuple(others), others_alive=tuple(others_alive))
