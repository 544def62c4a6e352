"""The settings that a tuning recommends against closed forms, where those have one best point.

Source: the retry algebra of facts 1 (derived). A transmitter with independent loss f, whose
acknowledgements are never lost, delivers 1 - f^n of its frames in n attempts, and takes (1 -
f^n)/(1 - f) attempts a frame. A short period costs air time, a long one updates; retries cost air
time, and no retries deliver too little: in between is one best point, of two settings."""

import functools
import itertools

import pytest

from radiosim.scenario import parse
from radiosim.study.tune.tune_results import Tuned
from radiosim.study.tune.tuned import tuned
from radiosim.study.tune.varied import grid, parsed
from tests.reference.outside import DERIVED, FIVE_ERRORS, check, outside
from tests.reference.runs import UP_AT_ONCE
from tests.reference.sources import FACTS

LOSS, STARTS, DURATION_S = 0.2, 3, 600.0
FRAME_S = 329 / 250_000
DELIVERED, AIR, RATE_HZ = 0.98, 0.2, 20.0
PERIODS_MS, RETRIES = (25, 27, 29, 31), (1, 2, 3, 4)
SCENARIO = f"""
duration_s = {DURATION_S}
starts = {STARTS}
radio.profile = "gfsk-250k"
{UP_AT_ONCE}
air = {{ loss = {LOSS}, acknowledge_loss = 0 }}
receiver.boot_s = 0
receiver.read = "all"
[transmitter.drive]
boot_s = 0
period_ms = 20
payload_bytes = 32
retry_delay_us = 1000
clock_ppm = 0
[[requirement]]
figure = "stream.drive.delivery_ratio"
at_least = {DELIVERED}
[[requirement]]
figure = "stream.drive.duty_cycle"
at_most = {AIR}
[[requirement]]
figure = "stream.drive.update_rate_hz"
at_least = {RATE_HZ}
"""


@functools.cache
def found() -> Tuned:
    period = ",".join(map(str, PERIODS_MS))
    retries = ",".join(map(str, RETRIES))
    settings = [
        parsed(f"transmitter.drive.period_ms={period}"),
        parsed(f"transmitter.drive.retry_limit={retries}"),
    ]
    return tuned(parse(SCENARIO), settings, grid(settings), workers=1)


def closed_form(period_ms: float, retry_limit: float) -> float:
    """The margin of the requirement that is nearest to its limit."""
    lost = LOSS ** (retry_limit + 1)
    attempts = (1 - lost) / (1 - LOSS)
    rate_hz = (1 - lost) * 1000 / period_ms
    margins = (
        (1 - DELIVERED - lost) / (1 - DELIVERED),
        1 - attempts * FRAME_S * 1000 / period_ms / AIR,
        rate_hz / RATE_HZ - 1,
    )
    return max(-1.0, min(margins))


@pytest.mark.slow
@outside(
    "best period (ms) and retries of a transmitter, of 16",
    source=FACTS.at("1"),
    status=DERIVED,
    chance=FIVE_ERRORS,
)
def test_the_recommended_point_is_the_best_of_the_closed_form() -> None:
    expected = max(itertools.product(PERIODS_MS, RETRIES), key=lambda point: closed_form(*point))
    best = found().best

    assert best is not None
    # Four retries are alike to a thousandth, and cost more air.
    assert expected == (29, 3)
    check.same(str(best.values), str(tuple(map(float, expected))))


@outside(
    "margin of the worst of three starts, 16 points",
    source=FACTS.at("1"),
    status=DERIVED,
    chance=FIVE_ERRORS,
)
def test_every_margin_is_that_of_the_closed_form() -> None:
    for (period_ms, retries), point in zip(
        itertools.product(PERIODS_MS, RETRIES), found().points, strict=True
    ):
        assert point.values == (period_ms, retries)
        expected = closed_form(period_ms, retries)
        frames = DURATION_S * 1000 / period_ms
        lost = LOSS ** (retries + 1)
        # Five standard errors of the share lost and of the attempts, and one for the worst of
        # three; the frames under way as a start ends.
        of_lost = 6 * (lost * (1 - lost) / frames) ** 0.5 + 1 / frames
        of_attempts = 6 * 0.6 / frames**0.5 + 2 / frames
        within = max(
            of_lost / (1 - DELIVERED) if expected > -1 else 0.0,
            of_attempts * FRAME_S * 1000 / period_ms / AIR,
        )

        check.near(point.judged.margin, expected, within=within)
