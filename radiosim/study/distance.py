"""A scenario at a distance, in closed form: where its units stand, and what margin is left."""

import itertools
import math
from bisect import bisect_left, bisect_right
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import msgspec

from radiosim.engine.plan_air import anchored_db, level_dbm
from radiosim.errors import OptionError
from radiosim.scenario import Scenario
from radiosim.scenario.structs.range_tables import Range
from radiosim.scenario.structs.transmitter_table import Transmitter

NEAREST_M, FARTHEST_M = 1.0, 20_000.0
HOPELESS_DB = 18.0
"""So far below the rated sensitivity nothing arrives, even if 6 dB are in its favour."""
LEAST_FALL_DB = 12.0
"""What is looked at however weak the link is."""
_FINER = 1.005
"""Factor from one distance to the next at which margins are looked at: finer than two rays' nulls
lie, where two rays are a model."""
_HALVINGS = 40


def at_distance(scenario: Scenario, distance_m: float, more_db: float) -> Scenario:
    """The scenario with all transmitters at one distance, and a path that is better by some dB.

    Tracks and faults are left out: a gap must be the distance's. ValueError without air.range.
    """
    place = scenario.air.range
    if place is None:
        raise ValueError("a scenario without air.range has no distances")
    placed = {name: _without_distance(unit) for name, unit in scenario.transmitter.items()}
    moved = msgspec.structs.replace(
        place,
        distance_m=distance_m,
        track=None,
        track_file=None,
        receiver_gain_dbi=place.receiver_gain_dbi + more_db,
    )
    # A measured point would take the shift back: it tells what the path is as described.
    if place.anchor is not None:
        moved = _anchored(scenario, moved)
    air = msgspec.structs.replace(scenario.air, range=moved)
    return msgspec.structs.replace(scenario, transmitter=placed, air=air, fault=())


def _without_distance(unit: Transmitter) -> Transmitter:
    if unit.place is None:
        return unit
    bare = msgspec.structs.replace(unit.place, distance_m=None, track=None, track_file=None)
    return msgspec.structs.replace(unit, place=bare)


def _anchored(scenario: Scenario, moved: Range) -> Range:
    """The measured point as a plain gain, so that a shift on top of it stays."""
    gain_dbi = moved.receiver_gain_dbi + anchored_db(scenario)
    return msgspec.structs.replace(moved, anchor=None, receiver_gain_dbi=gain_dbi)


def margin_db(scenario: Scenario, stream: str, distance_m: float) -> float:
    """Level above the rated sensitivity, before shadowing and fading."""
    return level_dbm(scenario, stream, distance_m) - scenario.profile().sensitivity_dbm


def fall_alike(scenario: Scenario) -> bool:
    """Whether all levels fall by the same dB with distance: one tells all others then."""
    place = scenario.air.range
    heights = {
        None if unit.place is None else unit.place.height_m
        for unit in scenario.transmitter.values()
    }
    return place is None or place.path != "two-ray" or len(heights) == 1


@dataclass(frozen=True, slots=True)
class Fall:
    """How the margin of the weakest stream falls, from 1 m to where none can arrive.

    Two rays cancel at spots on the way: what is left there is found again farther on.
    """

    scenario: Scenario
    distance_m: Sequence[float]
    lowest_db: Sequence[float]
    """The lowest margin up to each distance."""
    highest_db: Sequence[float]
    """The highest margin from each distance on."""

    def last_m(self, margin: float) -> float:
        """The last distance at which so much margin is left; the nearest if none has it."""
        beyond = bisect_right(self.highest_db, -margin, key=_falling)
        return self._edge(beyond, lambda left: left >= margin)

    def first_m(self, margin: float) -> float:
        """The first distance at which no more margin is left than that; the farthest if none is."""
        at = bisect_left(self.lowest_db, -margin, key=_falling)
        return self._edge(at, lambda left: left > margin)

    def _edge(self, at: int, is_before: Callable[[float], bool]) -> float:
        """Where what holds of margins before a distance stops, on the way from the one before."""
        if at in (0, len(self.distance_m)):
            return self.distance_m[0 if at == 0 else -1]
        before, after = self.distance_m[at - 1], self.distance_m[at]
        for _ in range(_HALVINGS):
            middle = math.sqrt(before * after)
            if is_before(_weakest_db(self.scenario, middle)):
                before = middle
            else:
                after = middle
        return before


def _falling(margin: float) -> float:
    return -margin


def fall_of(scenario: Scenario) -> Fall:
    """How margins fall with distance. OptionError without air.range."""
    if scenario.air.range is None:
        raise OptionError(
            f"{scenario.name}: air.range: must be given for a range, as "
            "--set air.range.distance_m=10 (radiosim glossary air.range)"
        )
    steps = math.ceil(math.log(FARTHEST_M / NEAREST_M) / math.log(_FINER))
    distances = [min(FARTHEST_M, NEAREST_M * _FINER**k) for k in range(steps + 1)]
    margins = [
        [margin_db(scenario, name, metres) for name in scenario.transmitter] for metres in distances
    ]
    weakest = list(map(min, margins))
    lowest = list(itertools.accumulate(weakest, min))
    # Beyond the last distance where something may arrive, and never a single one.
    hopeful = max((k for k, each in enumerate(margins) if max(each) > -HOPELESS_DB), default=0)
    lower = bisect_left(lowest, LEAST_FALL_DB - lowest[0], key=_falling)
    end = min(len(distances), max(hopeful, lower) + 2)
    highest = list(itertools.accumulate(reversed(weakest[:end]), max))[::-1]
    return Fall(scenario, distances[:end], lowest[:end], highest)


def _weakest_db(scenario: Scenario, distance_m: float) -> float:
    return min(margin_db(scenario, name, distance_m) for name in scenario.transmitter)
