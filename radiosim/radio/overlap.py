"""What frames lose to bursts that they overlap in part, as they come at random instants."""

import functools
import math

import numpy as np

STEPS = 32
"""Of the shorter of frame and burst."""
MOST_STEPS = 2_000
"""Of a frame."""


def kept_beside_grid(frame_ns: int, burst_ns: int, every_ns: int, hazard: float) -> float:
    """Share of frames that outlast bursts on a grid.

    The mean of e^(−hazard · overlap) over one spacing of the grid, exact: the overlap is a
    straight line between the instants at which a frame's ends meet those of a burst. Where each
    overlap spoils, 1 − (a + b)/T is left (facts 5). `hazard`: a nanosecond.
    """
    a, b, every = frame_ns, min(burst_ns, every_ns), every_ns
    bends = sorted({0, b, -a % every, (b - a) % every, every})
    spoils = [hazard * (_busy_ns(at + a, b, every) - _busy_ns(at, b, every)) for at in bends]
    return math.fsum(
        (bends[k + 1] - bends[k]) / every * _mean_of_falling(spoils[k], spoils[k + 1])
        for k in range(len(bends) - 1)
    )


@functools.lru_cache(1024)
def kept_beside_random(frame_ns: int, burst_ns: int, bursts_per_ns: float, hazard: float) -> float:
    """Share of frames that outlast bursts of one length at random, which may run together.

    What is left of a burst when a frame begins, and how that goes on step by step: occupancy of
    the queue M/D/∞. Where each overlap spoils, e^(−λ(a + b)) is left (facts 5). `hazard`: a
    nanosecond while any burst lasts.
    """
    if hazard <= 0.0:
        return 1.0
    step_ns = max(min(frame_ns, burst_ns) / STEPS, frame_ns / MOST_STEPS)
    steps = round(frame_ns / step_ns)
    step_ns = frame_ns / steps
    bins = max(1, round(burst_ns / step_ns))
    # A burst costs what it costs, however it is cut into steps.
    spoil = hazard * burst_ns / bins
    whole, half = math.exp(-spoil), math.exp(-spoil / 2)
    none = math.exp(-bursts_per_ns * step_ns)
    began = [math.exp(-bursts_per_ns * burst_ns * (1 - k / bins)) for k in range(bins + 1)]
    idle, left = began[0], np.diff(began)
    for _ in range(steps):
        begun = (1 - none) * (idle * half + math.fsum(left) * whole)
        idle = none * (idle + float(left[0]) * half)
        left = np.append(left[1:] * (whole * none), begun)
    return idle + math.fsum(left)


def _busy_ns(until_ns: int, burst_ns: int, every_ns: int) -> int:
    """How much of the time from 0 on, where a burst begins, is burst."""
    whole, rest = divmod(until_ns, every_ns)
    return whole * burst_ns + min(rest, burst_ns)


def _mean_of_falling(one: float, other: float) -> float:
    """The mean of e^(−x) between two x."""
    low, span = min(one, other), abs(other - one)
    return math.exp(-low) * (-math.expm1(-span) / span if span > 1e-12 else 1.0)
