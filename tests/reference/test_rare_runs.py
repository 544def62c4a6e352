"""Estimates of rare trips against the formula for runs of losses.

Source: W. Feller, An Introduction to Probability Theory and Its Applications I, XIII.7: of
independent frames lost with probability p, maximal runs of at least k losses begin once in
1/((1 − p)·p^k) frames; from memory. A timer that runs out after D trips once for each run of
floor(D/T) losses, if D is clear of a whole number of periods T by more than a pass and jitter.
A frame with retries is lost when all of its attempts are, whatever becomes of acknowledgements.

Of 20 groups of starts; the bands are 1.85 times the half width of 95 %, and fail one time in 1,000.
"""

import pytest

from radiosim.scenario import parse
from radiosim.study.rare import estimate_trips

PLAIN = """
duration_s = 60
radio.profile = "gfsk-1M"
receiver.read = "all"
air.loss = {loss}
transmitter.drive = {{ period_ms = 20, payload_bytes = 6, acknowledge = false }}
failsafe.drive = {{ timeout_ms = {timeout_ms} }}
"""
RETRIED = """
duration_s = 60
radio.profile = "gfsk-1M"
receiver.read = "all"
air = { loss = 0.3, acknowledge_loss = 0.2 }
layout.counted = { fields = [{ name = "count", type = "u32" }] }
failsafe.drive = { timeout_ms = 90 }
[transmitter.drive]
period_ms = 20
layout = "counted"
signals.count = { kind = "counter" }
retry_limit = 1
"""
BAND = 1.85


def check(text: str, per_frame: float) -> None:
    """Hold the estimate of a scene's only stream to a closed form."""
    figures = estimate_trips(parse(text), "drive")
    assert figures.trusted, figures.why
    assert figures.per_frame is not None
    assert figures.per_hour is not None
    assert isinstance(figures.per_hour_ci95, tuple)
    low, high = figures.per_hour_ci95
    half = (high - low) / 2 * figures.per_frame / figures.per_hour

    assert half < 0.35 * per_frame
    assert abs(figures.per_frame - per_frame) < BAND * half


@pytest.mark.parametrize(("loss", "run"), [(0.1, 3), (0.1, 6), (0.1, 9), (0.3, 15)])
def test_runs_of_lost_frames_trip_as_often_as_the_formula_says(loss: float, run: int) -> None:
    check(PLAIN.format(loss=loss, timeout_ms=20 * run + 10), (1 - loss) * loss**run)


def test_with_retries_a_frame_is_lost_when_all_its_attempts_are() -> None:
    lost = 0.3**2

    check(RETRIED, (1 - lost) * lost**4)
