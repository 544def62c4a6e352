"""A servo by itself, pulse by pulse."""

from collections.abc import Sequence
from typing import Any

from radiosim.engine.jit import blank
from radiosim.scenario.structs.output_table import Servo
from radiosim.vehicle.fold.values import ServoState, follow_pulse, turn
from radiosim.vehicle.output_fold import numbers_of


def state_of(servo: Servo) -> Any:
    """A servo that has had no pulse."""
    state = blank(ServoState, {})
    vars(state).update(numbers_of(servo))
    return state


def follow(
    at_ns: Sequence[int], targets: Sequence[float | None], servo: Servo
) -> list[float | None]:
    """Where it stands as each pulse ends; None before the first.

    `targets`: angle that each pulse asks for, None where there is none: it stays.
    """
    state, angles = state_of(servo), []
    for now, target in zip(at_ns, targets, strict=True):
        if target is not None:
            follow_pulse(state, now, target)
        elif state.is_placed:
            turn(state, now)
        angles.append(state.angle if state.is_placed else None)
    return angles
