"""Rules of antennas that turn: where they look, and what their pattern gives there (rule C6).

A heading is counted clockwise from the direction of the other end, which stands still beside it:
at 0 an antenna looks straight at the other end.
"""

import math
from collections.abc import Sequence

from radiosim.engine.plan_rows import (
    LOOKED,
    STEPPED,
    SWUNG,
    TURNED,
    Antenna,
    Point,
)
from radiosim.marks import rule
from radiosim.signals.formulas import look_at, sine_at
from radiosim.units import NS_PER_S

_TURN_DEG = 360.0


@rule
def on_track(track: Sequence[Point], points: int, now: int) -> float:
    """Value at an instant, on straight lines between the points; the ends are held."""
    low, high = 0, points - 1
    if now <= track[low].at_ns:
        return track[low].value
    if now >= track[high].at_ns:
        return track[high].value
    while high - low > 1:
        middle = (low + high) // 2
        if track[middle].at_ns <= now:
            low = middle
        else:
            high = middle
    before, after = track[low], track[high]
    share = (now - before.at_ns) / (after.at_ns - before.at_ns)
    return before.value + share * (after.value - before.value)


@rule
def heading_at(antenna: Antenna, now: int) -> float:
    """Which way an antenna's carrier looks at an instant, degrees clockwise."""
    if antenna.turning == TURNED:
        return antenna.motion[0] + antenna.motion[1] * (now / NS_PER_S)
    if antenna.turning == SWUNG:
        return antenna.scale * sine_at(antenna.motion, now / NS_PER_S)
    if antenna.turning == LOOKED:
        return antenna.scale * look_at(antenna.motion, now / NS_PER_S)
    if antenna.turning == STEPPED:
        held = now // int(antenna.motion[0])
        return antenna.scale * antenna.heading[held % antenna.headings].value
    if antenna.motion[0] == 1.0 and antenna.headings > 1:
        first_ns = antenna.heading[0].at_ns
        if now > first_ns:
            now = first_ns + (now - first_ns) % (
                antenna.heading[antenna.headings - 1].at_ns - first_ns
            )
    return antenna.scale * on_track(antenna.heading, antenna.headings, now)


@rule
def gain_towards(antenna: Antenna, degrees: float) -> float:
    """What a pattern gives towards an angle, dB: straight lines between its angles, all round."""
    angles = antenna.angles
    at = degrees - _TURN_DEG * math.floor(degrees / _TURN_DEG)
    low, high = 0, angles
    while low < high:
        middle = (low + high) // 2
        if antenna.gain[middle].deg <= at:
            low = middle + 1
        else:
            high = middle
    before, after = antenna.gain[(low + angles - 1) % angles], antenna.gain[low % angles]
    before_deg = before.deg if low > 0 else before.deg - _TURN_DEG
    after_deg = after.deg if low < angles else after.deg + _TURN_DEG
    share = (at - before_deg) / (after_deg - before_deg)
    return before.db + share * (after.db - before.db)


@rule
def antenna_db(antenna: Antenna, now: int) -> float:
    """What a pattern gives towards the other end at an instant, dB; 0 without a pattern."""
    if antenna.angles == 0:
        return 0.0
    return gain_towards(antenna, -heading_at(antenna, now) - antenna.rotation_deg)
