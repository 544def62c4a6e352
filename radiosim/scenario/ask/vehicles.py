"""What a link drives, and what follows from what it would do if it ran away."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Vehicle:
    """A kind of vehicle. Its figures are guesses from common practice, no source."""

    runs_away: str
    """What happens if it does."""
    timeout_ms: float
    """Silence after which it should stop."""
    stop_s: float
    """How long it takes to stand still."""
    caution: str
    """What to mind on the bench and at the first try."""


VEHICLES: dict[str, Vehicle] = {
    "rover": Vehicle(
        runs_away="slow: it pushes into something",
        timeout_ms=500,
        stop_s=0.3,
        caution="wheels or tracks off the ground until its failsafe was tried on the bench",
    ),
    "car": Vehicle(
        runs_away="fast: it hurts a leg, or is gone",
        timeout_ms=250,
        stop_s=1.0,
        caution="wheels off the ground until its failsafe was tried on the bench; then on a tether",
    ),
    "boat": Vehicle(
        runs_away="nobody can fetch it",
        timeout_ms=500,
        stop_s=2.0,
        caution="propeller clear of hands and hull until its failsafe was tried on the bench",
    ),
    "aircraft": Vehicle(
        runs_away="it falls or flies away",
        timeout_ms=500,
        stop_s=0.5,
        caution="propellers off until its failsafe was tried on the bench; a home-made link is "
        "not for flights near people",
    ),
    "machine": Vehicle(
        runs_away="it moves where a hand may be",
        timeout_ms=250,
        stop_s=0.3,
        caution="nobody within its reach; an emergency stop that needs no radio",
    ),
}
