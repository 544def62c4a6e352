"""How a servo follows its pulses: dead band and limited speed (rule G4)."""

from radiosim.marks import rule


class ServoState:
    """Where a servo stands."""

    exists: int
    first_us: float
    last_us: float
    """Pulses at the two ends of its travel."""
    travel_deg: float
    band_deg: float
    """The change of angle that it does not follow."""
    degrees_per_ns: float
    is_placed: int
    """It has had a pulse, so that its place is known."""
    angle: float
    goal: float
    at_ns: int


@rule
def angle_of(s: ServoState, pulse_us: float) -> float:
    """Where a pulse of this width sends the servo, degrees from one end of its travel."""
    share = (pulse_us - s.first_us) / (s.last_us - s.first_us)
    return min(max(share, 0.0), 1.0) * s.travel_deg


@rule
def moved(angle: float, target: float, most: float) -> float:
    """`angle` moved towards `target` by at most `most`."""
    return angle + min(max(target - angle, -most), most)


@rule
def turn(s: ServoState, now: int) -> None:
    """It turns towards its goal until now."""
    s.angle = moved(s.angle, s.goal, (now - s.at_ns) * s.degrees_per_ns)
    s.at_ns = now


@rule
def follow_pulse(s: ServoState, now: int, target: float) -> None:
    """A pulse that ends now asks for an angle; the first places it: nobody knows where it stood."""
    if s.is_placed == 0:
        s.is_placed = 1
        s.angle = s.goal = target
        s.at_ns = now
        return
    turn(s, now)
    if abs(target - s.goal) > s.band_deg:
        s.goal = target
