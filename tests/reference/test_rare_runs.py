"""Estimates of rare trips against the formula for runs of losses.

Source: Feller I, XIII.7 (from memory): of independent frames lost with probability p, runs of at
least k losses begin once in 1/((1 - p) p^k) frames. A timer that runs out after D trips once for
each run of floor(D/T) losses, if D is clear of a whole number of periods T by more than a pass. A
frame with retries is lost when all its attempts are, whatever becomes of the acknowledgements.

Each estimate is held to five of its standard errors over 20 groups of starts: Student's t with 19
degrees of freedom is further out with a chance of 8e-5.
"""

import pytest

from radiosim.scenario import parse
from radiosim.study.rare import estimate_trips
from tests.reference.outside import MEMORY, check, outside
from tests.reference.sources import FACTS, FELLER

PLAIN = """
duration_s = 60
radio.profile = "gfsk-1M"
receiver.boot_s = 0
receiver.read = "all"
air.loss = {loss}
transmitter.drive = {{ boot_s = 0, period_ms = 20, payload_bytes = 6, acknowledge = false }}
failsafe.drive = {{ timeout_ms = {timeout_ms} }}
"""
RETRIED = """
duration_s = 60
radio.profile = "gfsk-1M"
receiver.boot_s = 0
receiver.read = "all"
air = { loss = 0.3, acknowledge_loss = 0.2 }
layout.counted = { fields = [{ name = "count", type = "u32" }] }
failsafe.drive = { timeout_ms = 90 }
[transmitter.drive]
boot_s = 0
period_ms = 20
layout = "counted"
signals.count = { kind = "counter" }
retry_limit = 1
"""
CHANCE = 8e-5
SOURCE = f"{FELLER.at('XIII.7')}; {FACTS.at('8')}"
ERRORS_A_HALF_WIDTH = 2.093
"""Student's t, 19 degrees of freedom, 95 %."""


def hold(text: str, per_frame: float) -> None:
    """Hold the estimate of a scenario's only stream to a closed form."""
    figures = estimate_trips(parse(text), "drive", count=20)
    assert figures.trusted, figures.why
    assert figures.per_frame is not None
    assert figures.per_hour is not None
    assert isinstance(figures.per_hour_ci95, tuple)
    low, high = figures.per_hour_ci95
    error = (high - low) / 2 / ERRORS_A_HALF_WIDTH * figures.per_frame / figures.per_hour

    assert error < 0.15 * per_frame
    check.near(figures.per_frame / per_frame, 1.0, within=5 * error / per_frame)


@pytest.mark.slow
@outside(
    "rare trips: estimate over formula",
    source=SOURCE,
    status=MEMORY,
    chance=CHANCE,
)
@pytest.mark.parametrize("run", [3, 6, 9])
def test_runs_of_lost_frames_trip_as_often_as_the_formula_says(run: int) -> None:
    hold(PLAIN.format(loss=0.1, timeout_ms=20 * run + 10), 0.9 * 0.1**run)


@pytest.mark.slow
@outside(
    "rare trips with retries: estimate over formula",
    source=SOURCE,
    status=MEMORY,
    chance=CHANCE,
)
def test_with_retries_a_frame_is_lost_when_all_its_attempts_are() -> None:
    lost = 0.3**2

    hold(RETRIED, (1 - lost) * lost**4)
