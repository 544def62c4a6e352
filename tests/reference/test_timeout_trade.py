"""Trips for nothing over timeouts against the spacing of runs of losses.

Source: W. Feller, "An Introduction to Probability Theory and Its Applications", vol. I, XIII.7
(S): with independent loss p, maximal runs of k lost frames come once in 1/(q pᵏ) frames.
"""

import functools

import pytest

from radiosim.scenario import parse
from radiosim.study.drill.trade import Trade, trade
from tests.reference.outside import CHANCE_OF_FAILURE, SEEN, check, outside
from tests.reference.sources import FELLER

LOSS, PERIOD_S = 0.3, 0.030
SCENE = f"""
duration_s = 600
starts = 2
radio.profile = "gfsk-1M"
air.loss = {LOSS}
transmitter.drive.period_ms = {1000 * PERIOD_S}
transmitter.drive.payload_bytes = 6
transmitter.drive.acknowledge = false
transmitter.drive.clock_ppm = 0
failsafe.drive.timeout_ms = 200
receiver.read = "all"
"""
HOURS = 3.689 / 4


@functools.cache
def rows() -> dict[float, Trade]:
    return {it.timeout_ms: it for it in trade(parse(SCENE), 4.0, workers=1)["drive"]}


# Clear of ties: no whole number of periods lies within a pass below the timeout.
@pytest.mark.parametrize("timeout_ms", [100, 200, 250, 400])
@outside(
    "trips an hour over timeouts, from one simulation",
    source=FELLER.at("XIII.7"),
    status=SEEN,
    chance=CHANCE_OF_FAILURE,
    unit="trips",
)
def test_the_trade_curve_is_that_of_runs_of_losses(timeout_ms: int) -> None:
    needed = int(timeout_ms / (1000 * PERIOD_S))
    starts = -(-HOURS * 3600 // 600)
    hours = starts * 600 / 3600
    expected = (1 - LOSS) * LOSS**needed * 3600 / PERIOD_S * hours

    check.events(round(rows()[timeout_ms].nuisance_per_hour * hours), expected)
