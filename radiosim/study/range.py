"""How far a link reaches: every stream at one distance after another, as a band.

What nobody knows of antennas, bodies and bushes is 6 dB either way, so each distance is simulated
three times on the same draws: with that much less, as described, and with that much more.
"""

import functools
import math
from collections.abc import Iterable, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass

import msgspec
from msgspec import Struct

from radiosim.engine.plan_air import anchored_db, level_dbm
from radiosim.engine.simulate import Engine
from radiosim.errors import OptionError
from radiosim.measure.summary import Summary
from radiosim.scenario import Scenario
from radiosim.scenario.structs.range_tables import Range
from radiosim.scenario.structs.transmitter_table import Transmitter
from radiosim.study.run_points import OnProgress, run_points
from radiosim.study.starts import make_ready, simulate_starts

UNKNOWN_DB = 6.0
"""Common practice, no source."""
NEAREST_M, FARTHEST_M = 1.0, 20_000.0
HOPELESS_DB = 12.0
"""So far below the rated sensitivity, with the unknown in its favour, nothing arrives any more."""
POINTS = 12
LEAST = 0.1
"""Share of samples that must be read of every stream for a requirement to count as held."""
MOST_STARTS, LONGEST_S = 6, 60.0
"""Starts of each point and their length, unless asked otherwise."""


class Band(Struct, frozen=True, kw_only=True):
    """A figure with 6 dB less, as described, and with 6 dB more; None: nothing to measure."""

    low: float | None
    nominal: float | None
    high: float | None


class Point(Struct, frozen=True, kw_only=True):
    """One stream at one distance."""

    distance_m: float
    margin_db: float
    """Level above the rated sensitivity, as described, before shadowing and fading."""
    delivery_ratio: Band
    update_rate_hz: Band
    longest_gap_ms: Band
    nuisance_per_hour: Band


class Limit(Struct, frozen=True, kw_only=True):
    """Where a requirement stops holding: the last distance up to which it held at every point."""

    requirement: str
    distance_m: tuple[float, float]
    """With 6 dB less, and with 6 dB more, to one digit; 0: not even at the first."""
    is_open: tuple[bool, bool]
    """Whether the requirement held at the last distance too: the limit lies beyond."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reach:
    """What came out, over distance."""

    scenario: str
    starts: int
    duration_s: float
    unknown_db: float = UNKNOWN_DB
    streams: Mapping[str, tuple[Point, ...]]
    limits: tuple[Limit, ...]
    notes: tuple[str, ...]


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


def distances_of(scenario: Scenario, points: int = POINTS) -> tuple[float, ...]:
    """Distances from 1 m to where nothing arrives any more, each the same factor on.

    OptionError without air.range.
    """
    if scenario.air.range is None:
        raise OptionError(
            f"{scenario.name}: air.range: must be given for a range, as "
            "--set air.range.distance_m=10 (radiosim glossary air.range)"
        )
    far = NEAREST_M
    while far < FARTHEST_M and any(
        margin_db(scenario, name, far) > -HOPELESS_DB - UNKNOWN_DB for name in scenario.transmitter
    ):
        far *= 1.25
    factor = (far / NEAREST_M) ** (1 / (points - 1))
    return tuple(NEAREST_M * factor**k for k in range(points))


def shortened(scenario: Scenario, starts: int | None, duration_s: float | None) -> Scenario:
    """The scenario with as few and short starts as a point needs, unless others were asked for."""
    return msgspec.structs.replace(
        scenario,
        starts=min(scenario.starts, MOST_STARTS) if starts is None else starts,
        duration_s=min(scenario.duration_s, LONGEST_S) if duration_s is None else duration_s,
    )


def margin_db(scenario: Scenario, stream: str, distance_m: float) -> float:
    """Level above the rated sensitivity, before shadowing and fading."""
    return level_dbm(scenario, stream, distance_m) - scenario.profile().sensitivity_dbm


def reach(
    scenario: Scenario,
    distances_m: Sequence[float],
    *,
    engine: Engine = "auto",
    executor: Executor | None = None,
    workers: int | None = None,
    on_progress: OnProgress | None = None,
) -> Reach:
    """Simulate a scenario at each distance, three times; starts and length are the scenario's
    own."""
    variants = [
        at_distance(scenario, metres, shift)
        for metres in distances_m
        for shift in (-UNKNOWN_DB, 0.0, UNKNOWN_DB)
    ]
    make_ready(variants[0], engine)
    found = run_points(
        functools.partial(_summary, engine),
        variants,
        fold=tuple,
        is_ready=True,
        executor=executor,
        workers=workers,
        on_progress=on_progress,
    )
    by_point = [found[k : k + 3] for k in range(0, len(found), 3)]
    return Reach(
        scenario=scenario.name,
        starts=scenario.starts,
        duration_s=scenario.duration_s,
        streams={
            name: tuple(
                _point(scenario, name, metres, three)
                for metres, three in zip(distances_m, by_point, strict=True)
            )
            for name in scenario.transmitter
        },
        limits=tuple(_limits(scenario, distances_m, by_point)),
        notes=("faults are left out",) if scenario.fault else (),
    )


def _summary(engine: Engine, scenario: Scenario) -> Summary:
    return simulate_starts(scenario, engine=engine, workers=1)


def _point(scenario: Scenario, stream: str, distance_m: float, three: Sequence[Summary]) -> Point:
    figures = [summary.figures.stream[stream] for summary in three]
    trips = [None if f.failsafe is None else f.failsafe.nuisance_per_hour for f in figures]
    return Point(
        distance_m=distance_m,
        margin_db=margin_db(scenario, stream, distance_m),
        delivery_ratio=_band([f.delivery_ratio for f in figures]),
        update_rate_hz=_band([f.update_rate_hz for f in figures]),
        longest_gap_ms=_band([f.gap_ms.max for f in figures]),
        nuisance_per_hour=_band(trips),
    )


def _band(values: Sequence[float | None]) -> Band:
    low, nominal, high = values
    return Band(low=low, nominal=nominal, high=high)


def _limits(
    scenario: Scenario, distances_m: Sequence[float], by_point: Sequence[Sequence[Summary]]
) -> Iterable[Limit]:
    for number, requirement in enumerate(scenario.requirement):
        judged = [
            [arrives(s) and s.requirements[number].ok is not False for s in three]
            for three in by_point
        ]
        # What asks for a trip asks for it at a fault, and faults are left out.
        wants_fault = requirement.figure.endswith(".trips_on_fault")
        if wants_fault or all(
            s.requirements[number].measured is None for three in by_point for s in three
        ):
            continue
        ends = [_last_held([row[k] for row in judged], distances_m) for k in (0, 2)]
        bound = "at least" if requirement.at_least is not None else "at most"
        limit = requirement.at_least if requirement.at_least is not None else requirement.at_most
        yield Limit(
            requirement=f"{requirement.figure} {bound} {limit:g}",
            distance_m=(rounded_m(ends[0][0]), rounded_m(ends[1][0])),
            is_open=(ends[0][1], ends[1][1]),
        )


def arrives(summary: Summary) -> bool:
    """Whether there is a link at all: a dead one has no nuisance trips, and holds nothing."""
    return all((f.delivery_ratio or 0.0) >= LEAST for f in summary.figures.stream.values())


def _last_held(held: Sequence[bool], distances_m: Sequence[float]) -> tuple[float, bool]:
    """The last distance up to which it held everywhere, and whether that is the last of all."""
    count = next((k for k, ok in enumerate(held) if not ok), len(held))
    return (distances_m[count - 1] if count else 0.0), count == len(held)


def rounded_m(distance_m: float) -> float:
    """A distance to one digit: more nobody knows."""
    if distance_m <= 0:
        return 0.0
    unit = 10.0 ** math.floor(math.log10(distance_m))
    return round(round(distance_m / unit) * unit, 9)
