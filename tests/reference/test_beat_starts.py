"""Weighted starts against brute force, on a scenario where that is feasible.

Source of the expected share: two periodic transmitters without acknowledgement, facts 5 (derived,
Monte Carlo agrees): over random phase a frame of length a is hit by the other's of length b with
probability (a + b) / T. The starts without help stand beside it: the same draws with every start
ordinary. Intervals of 95 % over starts are widened to 4 standard errors."""

import math

import pytest

from radiosim.engine.plan import make_plan
from radiosim.engine.stratification import shares_of, weight_of
from radiosim.scenario import parse
from radiosim.study.starts import simulate_starts
from tests.reference.outside import DERIVED, MEMORY, check, outside
from tests.reference.sources import ALOHA, FACTS, MIXTURE

T_NS = 20_000_000
SCENARIO = parse(
    """
duration_s = 10
# The receiver is up at once: what it would miss while it boots is not what is counted here.
radio = { profile = "gfsk-1M", settle_us = 0, crystal_start_us = 0, power_on_reset_ms = 0 }
air.loss = 0.0
receiver.boot_s = 0
transmitter.drive = { boot_s = 0, period_ms = 20, payload_bytes = 12, acknowledge = false, \
clock_ppm = 10 }
transmitter.head = { boot_s = 0, period_ms = 20, payload_bytes = 12, acknowledge = false, \
clock_ppm = -10 }
receiver.read = "all"
failsafe.drive = { timeout_ms = 250 }
"""
)
STARTS = 600
FOUR_ERRORS = 6.3e-5
"""Chance that a normal variable is further than four standard errors from its mean."""


@pytest.mark.slow
@outside(
    "share delivered, a third of the starts around beats, weighted back",
    source=f"{ALOHA.key}; {FACTS.at('5')}",
    status=DERIVED,
    chance=FOUR_ERRORS,
)
def test_a_third_of_the_starts_meet_and_averages_are_those_of_ordinary_starts() -> None:
    found = simulate_starts(SCENARIO, count=STARTS)
    drive = found.figures.stream["drive"]
    tx = make_plan(SCENARIO, 1).tx[0]
    expected = 1 - 2 * tx.frame_ns / T_NS

    assert found.starts_around_beats == STARTS / 3
    assert isinstance(drive.delivery_ratio_ci95, tuple)
    assert drive.delivery_ratio is not None
    half = (drive.delivery_ratio_ci95[1] - drive.delivery_ratio_ci95[0]) / 2
    # A frame at either end of the run adds one part in 500.
    within = 4 / 1.96 * half + 1 / 500 * (1 - expected)
    check.near(drive.delivery_ratio, expected, within=within)
    # Not weighted back it would be far off: a third of the starts lose most of what they send.
    assert drive.read / drive.sampled < expected - 0.1


@outside(
    "share of starts that meet, weighted back, beside ordinary starts",
    source=MIXTURE.key,
    status=MEMORY,
    chance=FOUR_ERRORS,
)
def test_the_same_interval_takes_many_more_ordinary_starts() -> None:
    """Over phase alone: the loss of a start is a function of its phases."""
    shares = shares_of(0, 3 * STARTS, 1)
    helped, plain = [], []
    for start in range(3 * STARTS):
        phases = make_plan(SCENARIO, start).phases
        meets = phases.densities[0] > 0
        helped.append(weight_of(phases, shares) * meets)
        if phases.made_for is None:
            plain.append(float(meets))

    def error(values: list[float]) -> float:
        mean = sum(values) / len(values)
        spread = sum((v - mean) ** 2 for v in values) / (len(values) - 1)
        return math.sqrt(spread)

    check.near(
        sum(helped) / len(helped),
        sum(plain) / len(plain),
        within=4 * error(plain) / math.sqrt(len(plain)),
    )
    # Variance of one start: what the help is worth.
    assert error(plain) ** 2 > 4 * error(helped) ** 2
