"""Antenna patterns: gain over the direction in the level plane, dB.

A pattern is a list of (degrees clockwise from ahead, dB) with angles from 0 to below 360 that go
up; between them gains follow straight lines in dB, round the circle.

Source of the dipole: C. A. Balanis, "Antenna Theory", chapter 4 (from memory): a thin half-wave
dipole has the field F(θ) = cos(π/2 · cos θ) / sin θ, θ from its wire, a directivity of 1.64
(2.15 dBi) and a half-power beam width of 78 degrees.
"""

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise

Pattern = Sequence[tuple[float, float]]

DIPOLE_DBI = 2.15
DEEPEST_DB = 30.0
"""No null is deeper than that below the best direction: what stands around scatters into it
(common practice, no source)."""
_STEP_DEG = 5
TURN_DEG = 360.0


def dipole_field(theta: float) -> float:
    """Field of a thin half-wave dipole over its largest; `theta`: from the wire, radians."""
    sine = math.sin(theta)
    return 0.0 if abs(sine) < 1e-9 else math.cos(math.pi / 2 * math.cos(theta)) / sine


def half_wave_dipole() -> Pattern:
    """A half-wave dipole that lies level, across: best ahead and behind, nulls at both sides."""
    return tuple(
        (float(angle), DIPOLE_DBI + _db(dipole_field(math.radians(90 + angle))))
        for angle in range(0, 360, _STEP_DEG)
    )


def _db(field: float) -> float:
    return -DEEPEST_DB if field == 0 else max(-DEEPEST_DB, 20 * math.log10(abs(field)))


NAMED = {"half_wave_dipole": half_wave_dipole()}


def gain_db(pattern: Pattern, degrees: float) -> float:
    """Gain towards an angle, any number of degrees."""
    at = degrees % TURN_DEG
    (first_deg, first_db), (last_deg, last_db) = pattern[0], pattern[-1]
    ends = [(last_deg - TURN_DEG, last_db), *pattern, (first_deg + TURN_DEG, first_db)]
    for (low, low_db), (high, high_db) in pairwise(ends):
        if at <= high:
            return low_db + (at - low) / (high - low) * (high_db - low_db)
    return first_db


def best_db(pattern: Pattern) -> float:
    """Gain in the best direction."""
    return max(db for _, db in pattern)


def worst_db(pattern: Pattern, low: float, high: float) -> float:
    """Least gain towards any angle from `low` to `high` degrees."""
    return min(db for _, db in _corners(pattern, low, high))


def mean_db(pattern: Pattern, low: float, high: float) -> float:
    """Mean of the gain in dB over the angles from `low` to `high` degrees, each counted alike."""
    corners = list(_corners(pattern, low, high))
    if corners[-1][0] <= corners[0][0]:
        return corners[0][1]
    area = math.fsum((b - a) * (a_db + b_db) / 2 for (a, a_db), (b, b_db) in pairwise(corners))
    return area / (corners[-1][0] - corners[0][0])


def _corners(pattern: Pattern, low: float, high: float) -> Iterator[tuple[float, float]]:
    """Both ends and every angle of the table between them, with their gains; a turn at most."""
    high = min(high, low + TURN_DEG)
    yield low, gain_db(pattern, low)
    turn = math.floor(low / TURN_DEG) * TURN_DEG
    for begins in (turn, turn + TURN_DEG):
        for degrees, db in pattern:
            if low < begins + degrees < high:
                yield begins + degrees, db
    yield high, gain_db(pattern, high)
