"""Fields of frames, as folds read them."""

from typing import Any

import numpy as np

from radiosim.engine.machine import Machine, Record
from radiosim.engine.payload import Payload
from radiosim.layout.quantise import wire_of
from radiosim.signals.course import MOST_NUMBERS

COUNTS = {"numbers": MOST_NUMBERS}
_WIRE = ("float_bits", "scale", "neutral", "offset", "low", "high")


class Points:
    """Points of the signals of several fields, one after the other."""

    def __init__(self) -> None:
        self._rows: list[tuple[float, float]] = []

    def add(self, points: tuple[tuple[float, ...], ...]) -> int:
        """Where some points begin."""
        first = len(self._rows)
        self._rows += [(point[0], point[-1]) for point in points]
        return first

    def table(self, machine: Machine) -> Any:
        """All of them, at least one."""
        return machine.numbers(np.array(self._rows or [(0.0, 0.0)], np.float64))


def set_field(
    machine: Machine, record: Record, payload: Payload, field: int, points: Points
) -> None:
    """Set a FieldState to one field of a stream's frames."""
    sensor = payload.sensors[field]
    course = sensor.signal.course(sensor.span)
    machine.set(
        record,
        kind=course.kind,
        first=points.add(course.points),
        count=len(course.points),
        every_ns=sensor.every_ns,
        phase_ns=sensor.phase_ns,
        **dict(zip(_WIRE, wire_of(payload.layout.fields[field]), strict=True)),
    )
    numbers = machine.get(record, "numbers")
    for k, number in enumerate(course.numbers):
        numbers[k] = number
