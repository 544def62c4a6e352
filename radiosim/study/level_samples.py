"""Levels at which a link is simulated: more of them where its figures change.

Only levels tell one distance from another. Where all of them fall alike, what is worse by 6 dB here
is what is described elsewhere, and is simulated once.
"""

import functools
import math
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, field
from itertools import pairwise
from typing import NamedTuple

from radiosim.engine.simulate import Engine
from radiosim.measure.summary import StreamFigures, Summary
from radiosim.scenario import Scenario
from radiosim.study.distance import Fall, at_distance, fall_alike
from radiosim.study.run_points import OnProgress, run_points
from radiosim.study.starts import simulate_starts

UNKNOWN_DB = 6.0
"""Common practice, no source."""
FINEST_DB = 0.75
"""Step of the level where figures change most."""
_SHARE_CHANGED, _TIMES_CHANGED = 0.05, 1.5
"""What is read, and what gaps and trips are told in, by which two levels differ."""
_GUESSED_LEVELS = 50
"""Told as what there is in all until it is more."""


class Place(NamedTuple):
    """What is simulated: the last distance with a margin, and a path better by some dB."""

    margin_db: float
    shift_db: float


@dataclass(frozen=True, slots=True)
class Line:
    """Levels beside each other: of one distance with more and less, or of all as described."""

    margin_db: float | None

    def place(self, x: float) -> Place:
        """The place at a shift of the one distance, or at a margin."""
        return Place(x, 0.0) if self.margin_db is None else Place(self.margin_db, x)


NOMINAL = Line(None)


@dataclass(slots=True)
class Sampler:
    """What was simulated so far, and what simulates more of it."""

    scenario: Scenario
    fall: Fall
    engine: Engine
    executor: Executor | None
    on_progress: OnProgress | None
    found: dict[tuple[float, float], Summary] = field(default_factory=dict)
    """By which distance's levels they have, 0 where all distances share them, and by margin."""

    def simulate(self, places: Iterable[Place]) -> None:
        """Simulate those places that were not yet."""
        todo = {key: place for place in places if (key := self._key(place)) not in self.found}
        done = len(self.found)
        total = max(done + len(todo), _GUESSED_LEVELS)
        scenarios = [
            at_distance(self.scenario, self.fall.last_m(margin), shift)
            for margin, shift in todo.values()
        ]
        tell = self.on_progress
        found = run_points(
            functools.partial(_summary, self.engine),
            scenarios,
            fold=tuple,
            is_ready=True,
            executor=self.executor,
            workers=1,
            on_progress=tell and (lambda more, _: tell(done + more, total)),
        )
        self.found.update(zip(todo, found, strict=True))

    def _key(self, place: Place) -> tuple[float, float]:
        return self._levels_of(place.margin_db), place.margin_db + place.shift_db

    def _levels_of(self, margin: float) -> float:
        return 0.0 if fall_alike(self.scenario) else margin

    def at(self, margin: float, shift: float = 0.0) -> Summary:
        """What a place gave that was simulated."""
        return self.found[self._key(Place(margin, shift))]

    def along(self, line: Line) -> list[tuple[float, Summary]]:
        """What was simulated on a line, in order."""
        if line.margin_db is None:
            return self.across(0.0)
        of = self._levels_of(line.margin_db)
        found = (
            (margin - line.margin_db, summary)
            for (levels, margin), summary in self.found.items()
            if levels == of and abs(margin - line.margin_db) <= UNKNOWN_DB
        )
        return sorted(found, key=_first)

    def across(self, shift: float) -> list[tuple[float, Summary]]:
        """What was simulated at all distances with one shift: by margin as described, rising."""
        found = (
            (margin - shift, summary)
            for (levels, margin), summary in self.found.items()
            if levels == self._levels_of(margin - shift)
        )
        return sorted(found, key=_first)

    def settle(self, lines: Sequence[Line]) -> None:
        """Simulate ever more of each line, until neighbours are alike or FINEST_DB apart."""
        while todo := [place for line in lines for place in self._between(line)]:
            self.simulate(todo)

    def _between(self, line: Line) -> Iterator[Place]:
        for (a, before), (b, after) in pairwise(self.along(line)):
            if b - a > FINEST_DB and differ(before, after):
                yield line.place(FINEST_DB * math.floor((a + b) / 2 / FINEST_DB))


def _first(pair: tuple[float, Summary]) -> float:
    return pair[0]


def _summary(engine: Engine, scenario: Scenario) -> Summary:
    return simulate_starts(scenario, engine=engine, workers=1)


def differ(before: Summary, after: Summary) -> bool:
    """Whether two levels differ so much that those between them must be looked at."""
    return any(
        abs((a.delivery_ratio or 0.0) - (b.delivery_ratio or 0.0)) > _SHARE_CHANGED
        or _times(a.gap_ms.max, b.gap_ms.max) > _TIMES_CHANGED
        or _times(trips_of(a), trips_of(b)) > _TIMES_CHANGED
        for a, b in _pairs(before, after)
    )


def change(before: Summary, after: Summary) -> float:
    """How much two levels differ in all."""
    return math.fsum(
        abs((a.delivery_ratio or 0.0) - (b.delivery_ratio or 0.0))
        + math.log10(_times(a.gap_ms.max, b.gap_ms.max))
        + math.log10(_times(trips_of(a), trips_of(b)))
        for a, b in _pairs(before, after)
    )


def _pairs(before: Summary, after: Summary) -> Iterable[tuple[StreamFigures, StreamFigures]]:
    return zip(before.figures.stream.values(), after.figures.stream.values(), strict=True)


def trips_of(figures: StreamFigures) -> float | None:
    """Nuisance trips an hour of a stream; None without a failsafe."""
    return None if figures.failsafe is None else figures.failsafe.nuisance_per_hour


def _times(a: float | None, b: float | None) -> float:
    """How many times the one the other is; from nothing to something counts from 1 on."""
    low, high = sorted((max(a or 0.0, 1.0), max(b or 0.0, 1.0)))
    return high / low
