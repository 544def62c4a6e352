"""Antennas with a pattern in plain numbers: how they turn, and what they give at most and least."""

import functools
import math
from collections.abc import Iterator
from itertools import pairwise

from radiosim.engine.plan_rows import (
    FOLLOWED,
    LOOKED,
    STEPPED,
    SWUNG,
    TURNED,
    Antenna,
    Gain,
    Point,
)
from radiosim.engine.rules.antennas import heading_at
from radiosim.radio.antenna import NAMED, TURN_DEG, best_db, mean_db, worst_db
from radiosim.scenario import Scenario
from radiosim.scenario.checks.unit_checks import span_of
from radiosim.scenario.structs.antenna_tables import Antenna as Described
from radiosim.scenario.structs.antenna_tables import HeldAntenna
from radiosim.signals.course import CONSTANT, LOOKAROUND, SINE, STEPS, Course
from radiosim.units import ns_from_s

NO_PATTERN = Antenna()


def antenna_of(scenario: Scenario, name: str) -> Antenna:
    """The antenna of a transmitter, or of the receiver where nobody else has that name."""
    unit = scenario.transmitter.get(name)
    described = scenario.receiver.antenna if unit is None else unit.antenna
    if described is None:
        return NO_PATTERN
    course = None
    if isinstance(described, HeldAntenna) and unit is not None and described.heading_field:
        layout = scenario.layout_of(name)
        field = next(field for field in layout.fields if field.name == described.heading_field)
        course = unit.signals[field.name].course(span_of(field))
    return _row(described, course, ns_from_s(scenario.duration_s))


@functools.lru_cache(maxsize=64)
def _row(described: Described, course: Course | None, until_ns: int) -> Antenna:
    said = described.pattern
    pattern = NAMED[said] if isinstance(said, str) else said
    turning = _of_track(described) if course is None else _of_course(course)
    scale = described.deg_per_unit if isinstance(described, HeldAntenna) and course else 1.0
    row = turning._replace(
        angles=len(pattern),
        gain=tuple(Gain(deg, db) for deg, db in pattern),
        rotation_deg=described.rotation_deg,
        scale=scale,
    )
    # Clockwise headings move the other end anticlockwise round the antenna.
    arcs = [
        (-high - row.rotation_deg, -low - row.rotation_deg) for low, high in _arcs(row, until_ns)
    ]
    return row._replace(
        best_db=best_db(pattern),
        mean_db=_mean([(mean_db(pattern, *arc), arc[1] - arc[0]) for arc in arcs]),
        worst_db=min(worst_db(pattern, *arc) for arc in arcs),
    )


def _mean(parts: list[tuple[float, float]]) -> float:
    """Mean over arcs, each by its length; of arcs without any, each alike."""
    whole = math.fsum(min(length, TURN_DEG) for _, length in parts)
    if whole == 0.0:
        return math.fsum(db for db, _ in parts) / len(parts)
    return math.fsum(db * min(length, TURN_DEG) for db, length in parts) / whole


def _of_track(described: Described) -> Antenna:
    track = described.heading_track
    if track is None:
        return Antenna(turning=TURNED, motion=(described.heading_deg, described.turn_deg_s))
    points = tuple(Point(ns_from_s(seconds), degrees) for seconds, degrees in track)
    return Antenna(turning=FOLLOWED, motion=(0.0,), headings=len(points), heading=points)


def _of_course(course: Course) -> Antenna:
    """What the signal of a field does, as the rule of headings takes it."""
    kind, numbers, points = course
    if kind == CONSTANT:
        return Antenna(turning=FOLLOWED, headings=1, heading=(Point(0, numbers[0]),), motion=(0.0,))
    if kind in (SINE, LOOKAROUND):
        return Antenna(turning=SWUNG if kind == SINE else LOOKED, motion=numbers)
    if kind == STEPS:
        held = tuple(Point(0, value) for (value,) in points)
        return Antenna(turning=STEPPED, motion=numbers, headings=len(held), heading=held)
    rows = tuple(Point(ns_from_s(seconds), value) for seconds, value in points)
    return Antenna(turning=FOLLOWED, motion=numbers, headings=len(rows), heading=rows)


def _arcs(row: Antenna, until_ns: int) -> Iterator[tuple[float, float]]:
    """Spans of headings that come up in a start, or, of a swing, that it can reach."""
    if row.turning in (SWUNG, LOOKED):
        middle, amplitude, low, high = row.motion[2:6]
        ends = (max(low, middle - amplitude), min(high, middle + amplitude))
        yield _sorted(*(row.scale * end for end in ends))
    elif row.turning == STEPPED:
        positions = 1 + (until_ns - 1) // int(row.motion[0])
        for point in row.heading[: max(1, positions)]:
            yield row.scale * point.value, row.scale * point.value
    elif row.turning == TURNED:
        yield _sorted(heading_at(row, 0), heading_at(row, until_ns))
    else:
        yield from _of_points(row, until_ns)


def _of_points(row: Antenna, until_ns: int) -> Iterator[tuple[float, float]]:
    """Spans of headings from point to point of a track, those after the end left out."""
    instants = [0, *(p.at_ns for p in row.heading if 0 < p.at_ns < until_ns), until_ns]
    if row.motion[0] == 1.0:
        # It begins again: every point comes up, or may.
        values = [row.scale * point.value for point in row.heading]
    else:
        values = [heading_at(row, at) for at in instants]
    yield from (_sorted(before, after) for before, after in pairwise((*values, values[-1])))


def _sorted(one: float, other: float) -> tuple[float, float]:
    return min(one, other), max(one, other)
