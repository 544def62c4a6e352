"""Age of what was read last, over a channel that loses frames independently.

Source: S. Kaul, R. Yates, M. Gruteser, "Real-time status: how often should one update?", INFOCOM
2012; formulas from memory. A periodic source of period T, success s, fixed delay d: mean age
T (1/s - 1/2) + d, mean peak T/s + d. Read on arrival, no retries. The gaps between reads are
independent, so that a mean over time is a ratio of sums over gaps; its standard error is that of
the linearised ratio.
"""

from typing import NamedTuple

import numpy as np
import pytest

from radiosim.measure.start import tally_start
from radiosim.trace import READ, Trace
from radiosim.units import NS_PER_MS
from tests.reference.outside import DERIVED_FROM_MEMORY, FIVE_ERRORS, MEMORY, check, outside
from tests.reference.runs import UP_AT_ONCE, run
from tests.reference.sources import AGE, PS

FRAMES = 20_000


class Channel(NamedTuple):
    """Period, success, and the format of the frames."""

    period_ms: float
    success: float
    acknowledge: str = '"flag"'


CHANNELS = (
    Channel(20, 0.9),
    Channel(20, 0.98, "true"),
    Channel(20, 0.5),
    Channel(5, 0.7, "false"),
    Channel(50, 0.2),
)
DELAY_US = {
    "false": 50 + 130 + 128 + 8.2,
    '"flag"': 50 + 130 + 137 + 8.2,
    "true": 50 + 130 + 137 + 8.2,
}
"""Upload of 1 + 8 bytes at 8 MHz and 41 us overhead, settle, frame at 1 Mbit/s, interrupt."""


@pytest.fixture(scope="module", params=CHANNELS, ids=lambda c: f"T={c.period_ms:g},s={c.success}")
def heard(request: pytest.FixtureRequest) -> tuple[Channel, Trace]:
    """A channel and a run of it."""
    channel = request.param
    return channel, run(f"""
duration_s = {FRAMES * channel.period_ms / 1000}
radio.profile = "gfsk-1M"
{UP_AT_ONCE}
air.loss = {1 - channel.success}
air.acknowledge_loss = 0
receiver.boot_s = 0
receiver.interrupt = true
layout.drive = {{ fields = [{{ name = "count", type = "u64" }}] }}
[transmitter.drive]
boot_s = 0
layout = "drive"
period_ms = {channel.period_ms}
offset_ms = 1
clock_ppm = 0
acknowledge = {channel.acknowledge}
retry_limit = 0
spi_overhead_us = 41
signals.count = {{ kind = "counter" }}
""")


@outside(
    "mean age, less the delay, T (1/s - 1/2)",
    source=AGE.key,
    status=MEMORY,
    chance=FIVE_ERRORS,
    unit="ms",
)
def test_mean_age_is_that_of_an_erasure_channel(heard: tuple[Channel, Trace]) -> None:
    (period_ms, success, acknowledge), trace = heard
    delay_ms = DELAY_US[acknowledge] / 1000
    expected_ms = period_ms * (1 / success - 0.5)
    gaps_ms = np.diff(trace.reads["read_ns"]) / NS_PER_MS
    spread = np.std(gaps_ms**2 / 2 - expected_ms * gaps_ms, ddof=1)
    error_ms = spread * len(gaps_ms) ** 0.5 / gaps_ms.sum()

    mean = tally_start(trace).streams["drive"].age.distribution(NS_PER_MS).mean

    assert mean is not None
    assert set(trace.reads["outcome"]) == {READ}
    check.near(mean - delay_ms, expected_ms, within=5 * error_ms)


@outside(
    "mean peak age, less the delay, T/s",
    source=AGE.key,
    status=MEMORY,
    chance=FIVE_ERRORS,
    unit="ms",
)
def test_mean_peak_age_is_that_of_an_erasure_channel(heard: tuple[Channel, Trace]) -> None:
    (period_ms, success, acknowledge), trace = heard
    reads = trace.reads
    peaks_ms = (reads["read_ns"][1:] - reads["sampled_ns"][:-1]) / NS_PER_MS

    check.mean(peaks_ms - DELAY_US[acknowledge] / 1000, period_ms / success)


@outside(
    "age of a frame as it is read on arrival: upload, settle, frame, interrupt",
    source=PS.at("7.7"),
    status=DERIVED_FROM_MEMORY,
    unit="us",
)
def test_every_frame_is_read_its_delay_after_its_sample(heard: tuple[Channel, Trace]) -> None:
    channel, trace = heard

    for delay_ns in trace.reads["read_ns"] - trace.reads["sampled_ns"]:
        check.near(delay_ns / 1000, DELAY_US[channel.acknowledge], within=0)
