"""A signal of one field in plain numbers, as the rule of its kind takes them."""

from collections.abc import Sequence
from typing import NamedTuple

CONSTANT, SINE, STEPS, TABLE, LOOKAROUND, COUNTER = range(6)

Points = Sequence[Sequence[float]]
"""Rows of numbers: (seconds, value) of a table, (value,) of steps."""


class Course(NamedTuple):
    """What the rule of a kind needs to know."""

    kind: int
    numbers: tuple[float, ...]
    points: tuple[tuple[float, ...], ...] = ()


MOST_NUMBERS = 6
