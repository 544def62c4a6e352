"""How far a link reaches: every stream at one distance after another, as a band.

What nobody knows of antennas, bodies and bushes is 6 dB either way, so a figure stands as all
that it takes from a path that much worse to one that much better, on the same draws. Distances are
spent where that changes, and a requirement's limit is halved in on between the last level that held
and the first that did not.
"""

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Executor
from contextlib import nullcontext
from dataclasses import dataclass
from itertools import accumulate, pairwise
from typing import NamedTuple

import msgspec
from msgspec import Struct

from radiosim.engine.plan_air import antennas_of
from radiosim.engine.simulate import Engine
from radiosim.measure.summary import StreamFigures, Summary
from radiosim.scenario import Scenario
from radiosim.study.amount import OnAmounts, amount_of_starts
from radiosim.study.distance import at_distance, fall_of, margin_db
from radiosim.study.level_samples import (
    FINEST_DB,
    NOMINAL,
    UNKNOWN_DB,
    Line,
    Place,
    Sampler,
    change,
    trips_of,
)
from radiosim.study.most_workers import workers_for
from radiosim.study.run_points import OnProgress
from radiosim.study.starts import make_ready, simulate_starts
from radiosim.study.worker_pool import worker_pool

COARSEST_DB = 12.0
"""Step of the level at first."""
LIMIT_DB = 0.1
"""A limit is found within so much."""
POINTS = 12
LEAST = 0.1
"""Share of samples that must be read of every stream for a requirement to count as held."""
MOST_STARTS, LONGEST_S = 6, 60.0
"""Starts of each point and their length, unless asked otherwise."""
_SPOT = 0.99
"""A level that is met before this part of its last distance is met at a spot."""
_EVENLY = 0.25
"""Part of the distances that is spread evenly over the levels; the rest goes where they differ."""


class Band(Struct, frozen=True, kw_only=True):
    """A figure from 6 dB less to 6 dB more than described: the least of it, as described, the most.

    None: nothing to measure.
    """

    least: float | None
    nominal: float | None
    most: float | None


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
    """Where a requirement stops holding: up to the first distance it surely holds, from the second
    on it surely fails; a figure of the worst start does one or the other at each."""

    requirement: str
    distance_m: tuple[float, float]
    """With 6 dB less, and with 6 dB more; 0: not even at the first."""
    is_open: tuple[bool, bool]
    """Whether the requirement held at the last distance too: the limit lies beyond."""
    spots_from_m: float | None = None
    """From where on it does not hold at some nearer spots either, with 6 dB less; None: there are
    none. Two rays cancel there."""
    unjudged: str = ""
    """Why it was not seen to hold even at the nearest distance, where it did not fail; nothing: it
    was, or it failed. Then it surely fails nowhere up to the first distance."""


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


_ENDS = (-UNKNOWN_DB, 0.0, UNKNOWN_DB)
"""How much better or worse the path may be, at each distance."""


def shortened(scenario: Scenario, starts: int | None, duration_s: float | None) -> Scenario:
    """The scenario with as few and short starts as a point needs, unless others were asked for."""
    return msgspec.structs.replace(
        scenario,
        starts=min(scenario.starts, MOST_STARTS) if starts is None else starts,
        duration_s=min(scenario.duration_s, LONGEST_S) if duration_s is None else duration_s,
    )


def reach(
    scenario: Scenario,
    points: int = POINTS,
    *,
    engine: Engine = "auto",
    executor: Executor | None = None,
    workers: int | None = None,
    on_progress: OnProgress | None = None,
    on_amounts: OnAmounts = lambda _: None,
) -> Reach:
    """Simulate a scenario at up to so many distances; starts and length are the scenario's own.

    OptionError without air.range.
    """
    fall = fall_of(scenario)
    make_ready(at_distance(scenario, fall.distance_m[0], 0.0), engine)
    each_s = scenario.starts * scenario.duration_s
    on_amounts((amount_of_starts(scenario, len(_ENDS) * points * each_s, engine),))
    wanted = workers_for(workers, points)
    is_alone = executor is not None or wanted == 1
    # One pool for all rounds.
    with nullcontext(executor) if is_alone else worker_pool(wanted, simulate_starts) as pool:
        sampler = Sampler(scenario, fall, engine, pool, on_progress)
        margins = _margins(sampler, points)
        lines = [Line(margin) for margin in margins]
        sampler.simulate(line.place(shift) for line in lines for shift in _ENDS)
        sampler.settle(lines)
        limits = tuple(_limits(sampler))
    return Reach(
        scenario=scenario.name,
        starts=scenario.starts,
        duration_s=scenario.duration_s,
        streams={
            name: tuple(_point(sampler, name, margin) for margin in margins)
            for name in scenario.transmitter
        },
        limits=limits,
        notes=(*(("faults are left out",) if scenario.fault else ()), *_of_patterns(scenario)),
    )


def _of_patterns(scenario: Scenario) -> Iterator[str]:
    """How margins count antennas that do not give the same all round."""
    for name in scenario.transmitter:
        antennas = antennas_of(scenario, name)
        if any(antenna.angles for antenna in antennas):
            mean_db = math.fsum(antenna.mean_db for antenna in antennas)
            worst_db = math.fsum(antenna.worst_db for antenna in antennas)
            yield (
                f"margins of {name} count its antennas' patterns at their mean over the headings, "
                f"{mean_db:.0f} dB; with each at its worst heading it is {worst_db:.0f} dB"
            )


def _margins(sampler: Sampler, points: int) -> list[float]:
    """Margins of the distances to tell, falling: where what is within 6 dB changes, mostly."""
    top, bottom = _ends(sampler)
    steps = math.ceil((top - bottom) / COARSEST_DB)
    first = [max(bottom, top - k * COARSEST_DB) for k in range(steps + 1)]
    sampler.simulate(NOMINAL.place(margin) for margin in first)
    sampler.settle([NOMINAL])
    cells = round((top - bottom) / FINEST_DB)
    changes = [0.0] * cells
    for (a, before), (b, after) in pairwise(sampler.along(NOMINAL)):
        low, high = (round((x - bottom) / FINEST_DB) for x in (a, b))
        for k in range(low, high):
            changes[k] = change(before, after) / (high - low)
    chosen = _spread(changes, round(UNKNOWN_DB / FINEST_DB), points)
    return [bottom + k * FINEST_DB for k in sorted(chosen, reverse=True)]


def _ends(sampler: Sampler) -> tuple[float, float]:
    """The margins between which distances are told, nearest and farthest, as whole steps."""
    return (
        UNKNOWN_DB * math.floor(sampler.fall.highest_db[0] / UNKNOWN_DB),
        UNKNOWN_DB * math.ceil(sampler.fall.highest_db[-1] / UNKNOWN_DB),
    )


def _spread(changes: Sequence[float], reach: int, points: int) -> set[int]:
    """Which edges of cells to take: more where more changes, there or `reach` cells to a side."""
    cells = len(changes)
    near = [
        math.fsum(changes[j] for j in (k - reach, k, k + reach) if 0 <= j < cells)
        for k in range(cells)
    ]
    whole = math.fsum(near)
    part = 1.0 if whole == 0.0 else _EVENLY
    weights = [part / cells + (1 - part) * each / (whole or 1.0) for each in near]
    summed = [0.0, *accumulate(weights)]
    chosen = {0, cells}
    for number in range(1, points - 1):
        wanted = number / (points - 1)
        free = [k for k in range(cells + 1) if k not in chosen]
        if free:
            chosen.add(min(free, key=lambda k: abs(summed[k] - wanted)))
    return chosen


def _point(sampler: Sampler, stream: str, margin: float) -> Point:
    distance_m = sampler.fall.last_m(margin)
    around = [summary.figures.stream[stream] for _, summary in sampler.along(Line(margin))]
    nominal = sampler.at(margin).figures.stream[stream]

    def band(of: Callable[[StreamFigures], float | None]) -> Band:
        values = [value for figures in around if (value := of(figures)) is not None]
        return Band(
            least=min(values, default=None), nominal=of(nominal), most=max(values, default=None)
        )

    return Point(
        distance_m=distance_m,
        margin_db=margin_db(sampler.scenario, stream, distance_m),
        delivery_ratio=band(lambda f: f.delivery_ratio),
        update_rate_hz=band(lambda f: f.update_rate_hz),
        longest_gap_ms=band(lambda f: f.gap_ms.max),
        nuisance_per_hour=band(trips_of),
    )


def _limits(sampler: Sampler) -> Iterator[Limit]:
    """Limits of all requirements that can be judged, each halved in on at both ends."""
    judged = [
        number
        for number, requirement in enumerate(sampler.scenario.requirement)
        # What asks for a trip asks for it at a fault, and faults are left out.
        if not requirement.figure.endswith(".trips_on_fault")
        and any(s.requirements[number].measured is not None for s in sampler.found.values())
    ]
    ends = [end for number in judged for end in _ends_of(sampler, number)]
    while todo := [place for end in ends if (place := _halfway(sampler, *end)) is not None]:
        sampler.simulate(todo)
    for number in judged:
        requirement = sampler.scenario.requirement[number]
        bound = "at least" if requirement.at_least is not None else "at most"
        limit = requirement.at_least if requirement.at_least is not None else requirement.at_most
        low, high = sorted(_end(sampler, *end) for end in _ends_of(sampler, number))
        spots_m = sampler.fall.first_m(low.margin_db)
        yield Limit(
            requirement=f"{requirement.figure} {bound} {limit:g}",
            distance_m=(low.distance_m, high.distance_m),
            is_open=(low.is_open, high.is_open),
            spots_from_m=spots_m if spots_m < _SPOT * low.distance_m else None,
            unjudged=low.unjudged,
        )


def _ends_of(sampler: Sampler, number: int) -> Iterator[tuple[int, float, bool]]:
    """Both ends of a limit: with 6 dB less as far as it surely holds, where it can be judged; with
    6 dB more as far as it does not surely fail."""
    is_judged = bool(_held(sampler, number, -UNKNOWN_DB, True)[0])
    yield number, -UNKNOWN_DB, is_judged
    yield number, UNKNOWN_DB, False


def _held(
    sampler: Sampler, number: int, shift: float, is_sure: bool
) -> tuple[list[float], float | None]:
    """Margins from the nearest distance on at which a requirement surely held, or did not fail;
    and where it first was otherwise."""
    held: list[float] = []
    top, bottom = _ends(sampler)
    for margin, summary in reversed(sampler.across(shift)):
        if bottom <= margin <= top:
            ok = summary.requirements[number].ok
            if not arrives(summary) or ok is False or (is_sure and ok is None):
                return held, margin
            held.append(margin)
    return held, None


def _halfway(sampler: Sampler, number: int, shift: float, is_sure: bool) -> Place | None:
    held, failed = _held(sampler, number, shift, is_sure)
    if not held or failed is None or held[-1] - failed <= LIMIT_DB:
        return None
    return Place((held[-1] + failed) / 2, shift)


class _End(NamedTuple):
    """Up to where a requirement holds, or does not fail, with one shift."""

    distance_m: float
    margin_db: float
    is_open: bool
    unjudged: str


def _end(sampler: Sampler, number: int, shift: float, is_sure: bool) -> _End:
    held, failed = _held(sampler, number, shift, is_sure)
    nearest = [sampler.at(margin, shift).requirements[number] for margin in held[:1]]
    return _End(
        distance_m=sampler.fall.last_m(held[-1]) if held else 0.0,
        margin_db=held[-1] if held else 0.0,
        is_open=failed is None,
        unjudged=next((f.why for f in nearest if f.ok is None), ""),
    )


def arrives(summary: Summary) -> bool:
    """Whether there is a link at all: a dead one has no nuisance trips, and holds nothing."""
    return all((f.delivery_ratio or 0.0) >= LEAST for f in summary.figures.stream.values())


def rounded_m(distance_m: float) -> float:
    """The round distance below: to a tenth of its first digit from 1 on, to half of it from 2 on,
    to one digit from 5 on: more nobody knows."""
    return _rounded(distance_m, math.floor)


def rounded_up_m(distance_m: float) -> float:
    """The round distance above, as `rounded_m` has them."""
    return _rounded(distance_m, math.ceil)


def _rounded(distance_m: float, to: Callable[[float], int]) -> float:
    if distance_m <= 0:
        return 0.0
    unit = 10.0 ** math.floor(math.log10(distance_m))
    part = distance_m / unit
    step = 0.1 if part < 2 else 0.5 if part < 5 else 1.0
    # What is round itself stays as it is.
    return round(to(round(part / step, 6)) * step * unit, 9)
