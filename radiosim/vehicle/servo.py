"""Servos as scenarios describe them (rule G4); how one follows its pulses stands in
`fold/servo.py`.

Speeds and dead bands of small servos are common practice, no source.
"""

from radiosim.scenario.structs.output import Servo
from radiosim.units import NS_PER_S


def dead_band_deg(servo: Servo) -> float:
    """The change of angle that it does not follow."""
    first, last = servo.over_us
    return abs(servo.dead_band_us / (last - first)) * servo.travel_deg


def numbers_of(servo: Servo) -> dict[str, float]:
    """A servo as its state describes it; see ServoState."""
    first, last = servo.over_us
    return {
        "exists": 1,
        "first_us": first,
        "last_us": last,
        "travel_deg": servo.travel_deg,
        "band_deg": dead_band_deg(servo),
        "degrees_per_ns": 60.0 / (servo.seconds_per_60deg * NS_PER_S),
    }
