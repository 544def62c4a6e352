"""How a servo follows its pulses: dead band and limited speed (rule G4).

Speeds and dead bands of small servos are common practice, no source.
"""

from collections.abc import Sequence

import numpy as np

from radiosim.engine.payload import Values
from radiosim.scenario.structs.output import Servo
from radiosim.units import NS_PER_S, NS_PER_US


def angle_of_pulse(pulse_ns: float, servo: Servo) -> float:
    """Where a pulse of this width sends the servo, degrees from one end of its travel."""
    first, last = servo.over_us
    share = (pulse_ns / NS_PER_US - first) / (last - first)
    return min(max(share, 0.0), 1.0) * servo.travel_deg


def angles_of_pulses(pulses_ns: Values, servo: Servo) -> Values:
    """`angle_of_pulse` for each; NaN stays NaN."""
    first, last = servo.over_us
    share = (pulses_ns / NS_PER_US - first) / (last - first)
    return np.clip(share, 0.0, 1.0) * servo.travel_deg


def dead_band_deg(servo: Servo) -> float:
    """The change of angle that it does not follow."""
    first, last = servo.over_us
    return abs(servo.dead_band_us / (last - first)) * servo.travel_deg


def moved(angle: float, target: float, most: float) -> float:
    """`angle` moved towards `target` by at most `most`."""
    return angle + min(max(target - angle, -most), most)


def follow(
    at_ns: Sequence[int], targets: Sequence[float | None], servo: Servo
) -> list[float | None]:
    """Where the servo stands as each pulse ends; None before the first pulse.

    `targets`: angle that each pulse asks for, None where there is none: it stays. It starts
    where its first pulse points: nobody knows where it stood.
    """
    degrees_per_ns = 60.0 / (servo.seconds_per_60deg * NS_PER_S)
    band = dead_band_deg(servo)
    angles: list[float | None] = []
    angle = goal = None
    last_ns = 0
    for now, target in zip(at_ns, targets, strict=True):
        if angle is None or goal is None:
            angle = goal = target
        else:
            angle = moved(angle, goal, (now - last_ns) * degrees_per_ns)
            if target is not None and abs(target - goal) > band:
                goal = target
        last_ns = now
        angles.append(angle)
    return angles
