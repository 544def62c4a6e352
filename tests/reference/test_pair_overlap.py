"""Two periodic transmitters on one channel against closed forms.

Sources: N. Abramson, "The ALOHA system", AFIPS 37 (1970): a frame is lost if another starts
within a frame's length before or after (S); from it (D), for a frame of length a, the other's of
length b every T at a random phase, nothing acknowledged: hit with (a + b)/T. Acknowledged: the
receiver is deaf too, (a + b + 2 settle + ack)/T, and acknowledgements are hit with (min(b, settle)
+ ack)/T.

Most checks sweep the phase over a whole period: the other transmitter is a little fast, so that it
is `slip` earlier on every frame. A span of length w then holds w/slip of these points, right to
less than one point, whatever the first phase is: no chance in it. If periods are as p to q, the
points are q such combs. Times in us."""

import math
from functools import cache
from typing import NamedTuple

import numpy as np
import pytest

from radiosim.engine.simulate import simulate
from radiosim.scenario import parse
from radiosim.trace import ACK_COLLISION, COLLISION, DEAF, Trace
from tests.reference.outside import CHANCE_OF_FAILURE, DERIVED, check, outside
from tests.reference.runs import UP_AT_ONCE, of_stream, run
from tests.reference.sources import ALOHA, FACTS

SETTLE_US = 130.0
OVERHEAD_BITS = {"false": 64, "true": 73}
"""Preamble, address, CRC and, if acknowledged, the control field (PS 7.3, S)."""


class Pair(NamedTuple):
    """An observed transmitter (mine) and another one."""

    profile: str
    rate_mbit: float
    mine_bytes: int
    other_bytes: int
    mine_ms: int = 20
    other_ms: int = 20

    def on_air_us(self, payload_bytes: int, acknowledge: str) -> float:
        return (OVERHEAD_BITS[acknowledge] + 8 * payload_bytes) / self.rate_mbit

    def span_us(self, acknowledge: str) -> float:
        """a + b."""
        mine, other = self.mine_bytes, self.other_bytes
        return self.on_air_us(mine, acknowledge) + self.on_air_us(other, acknowledge)

    @property
    def ack_us(self) -> float:
        return 73 / self.rate_mbit


PAIRS = (
    Pair("gfsk-1M", 1.0, 32, 32),
    Pair("gfsk-1M", 1.0, 32, 4),
    Pair("gfsk-1M", 1.0, 4, 32),
    Pair("gfsk-2M", 2.0, 8, 8),
    Pair("gfsk-250k", 0.25, 6, 16),
    Pair("gfsk-1M", 1.0, 16, 16, mine_ms=20, other_ms=10),
    Pair("gfsk-1M", 1.0, 16, 16, mine_ms=10, other_ms=20),
    Pair("gfsk-1M", 1.0, 16, 16, mine_ms=20, other_ms=40),
    Pair("gfsk-1M", 1.0, 16, 16, mine_ms=40, other_ms=20),
    Pair("gfsk-1M", 1.0, 8, 24, mine_ms=20, other_ms=17),
    Pair("gfsk-1M", 1.0, 24, 8, mine_ms=17, other_ms=20),
    Pair("gfsk-1M", 1.0, 8, 8, mine_ms=20, other_ms=19),
    Pair("gfsk-1M", 1.0, 8, 8, mine_ms=20, other_ms=25),
    Pair("gfsk-2M", 2.0, 32, 6, mine_ms=20, other_ms=30),
    Pair("gfsk-2M", 2.0, 6, 32, mine_ms=15, other_ms=50),
    Pair("gfsk-250k", 0.25, 6, 6, mine_ms=50, other_ms=33),
    Pair("gfsk-250k", 0.25, 1, 32, mine_ms=30, other_ms=20),
)
SLIP_PPM = 100


def named(pair: Pair) -> str:
    """A pair in a test's name."""
    lengths = f"{pair.mine_bytes} beside {pair.other_bytes} bytes"
    return f"{pair.profile} {lengths} every {pair.mine_ms} and {pair.other_ms} ms"


def off_by_us(pair: Pair, slip_us: float) -> float:
    """One point of each comb."""
    return slip_us * pair.other_ms // math.gcd(pair.mine_ms, pair.other_ms)


@cache
def swept(pair: Pair, acknowledge: str) -> tuple[Trace, int, float]:
    """A run over one whole period of the other; its frames of mine; the slip of each, in us."""
    slip_us = pair.mine_ms * SLIP_PPM / 1000
    frames = round(pair.other_ms * 1000 / slip_us)
    trace = run(f"""
duration_s = {(frames + 2) * pair.mine_ms / 1000}
radio.profile = "{pair.profile}"
{UP_AT_ONCE}
air.loss = 0
receiver.boot_s = 0
receiver.read = "all"
[transmitter.mine]
boot_s = 0
period_ms = {pair.mine_ms}
offset_ms = 2
payload_bytes = {pair.mine_bytes}
clock_ppm = 0
acknowledge = {acknowledge}
retry_limit = 0
[transmitter.other]
boot_s = 0
period_ms = {pair.other_ms}
offset_ms = 7
payload_bytes = {pair.other_bytes}
clock_ppm = -{SLIP_PPM}
acknowledge = {acknowledge}
retry_limit = 0
""")
    return trace, frames, slip_us


@outside(
    "length of all phases at which a plain frame is hit, a + b",
    source=f"{ALOHA.key}; {FACTS.at('5')}",
    status=DERIVED,
    unit="us",
)
@pytest.mark.parametrize("pair", PAIRS, ids=named)
def test_plain_frames_are_hit_in_a_plus_b_of_a_period(pair: Pair) -> None:
    trace, frames, slip_us = swept(pair, "false")
    fates = of_stream(trace.attempts, 0)["fate"][:frames]

    hit_us = np.count_nonzero(fates == COLLISION) * slip_us

    check.near(hit_us, pair.span_us("false"), within=off_by_us(pair, slip_us))


@outside(
    "the same for an acknowledged frame, a + b + 2 settle + ack",
    source=FACTS.at("5"),
    status=DERIVED,
    unit="us",
)
@pytest.mark.parametrize("pair", PAIRS, ids=named)
def test_acknowledged_frames_are_lost_in_the_deaf_time_too(pair: Pair) -> None:
    trace, frames, slip_us = swept(pair, "true")
    fates = of_stream(trace.attempts, 0)["fate"][:frames]
    deaf_us = 2 * SETTLE_US + pair.ack_us

    lost_us = np.count_nonzero(np.isin(fates, (COLLISION, DEAF))) * slip_us

    check.near(lost_us, pair.span_us("true") + deaf_us, within=off_by_us(pair, slip_us))


@outside(
    "length of all phases at which an acknowledgement is hit, min(b, settle) + ack",
    source=FACTS.at("5"),
    status=DERIVED,
    unit="us",
)
@pytest.mark.parametrize("pair", PAIRS, ids=named)
def test_acknowledgements_are_hit_in_b_plus_ack_of_a_period(pair: Pair) -> None:
    # A frame of the other that began more than a settle time before the
    # acknowledgement has hit the frame itself, so that there is none to lose.
    trace, frames, slip_us = swept(pair, "true")
    acknowledgements = of_stream(trace.acknowledgements, 0)
    acknowledgements = acknowledgements[acknowledgements["frame"] < frames]
    other_us = pair.on_air_us(pair.other_bytes, "true")

    hit_us = np.count_nonzero(acknowledgements["fate"] == ACK_COLLISION) * slip_us

    check.near(hit_us, min(other_us, SETTLE_US) + pair.ack_us, within=off_by_us(pair, slip_us))


@outside("share of frames hit, 329 + 329 us every 20 ms", source=FACTS.at("5"), status=DERIVED)
def test_two_20_ms_streams_of_329_us_are_hit_with_0_0329() -> None:
    # The worked value: 329 us at 1 Mbit/s has a control field, but asks for no acknowledgement.
    trace = run(f"""
duration_s = 200.04
radio.profile = "gfsk-1M"
{UP_AT_ONCE}
air.loss = 0
receiver.boot_s = 0
receiver.read = "all"
[transmitter.mine]
boot_s = 0
period_ms = 20
offset_ms = 2
payload_bytes = 32
clock_ppm = 0
acknowledge = "flag"
[transmitter.other]
boot_s = 0
period_ms = 20
offset_ms = 7
payload_bytes = 32
clock_ppm = -100
acknowledge = "flag"
""")
    fates = of_stream(trace.attempts, 0)["fate"][:10_000]

    check.near(np.count_nonzero(fates == COLLISION) / 10_000, 0.0329, within=1e-4)


@outside(
    "share of starts whose drawn phases meet, (a + b)/T",
    source=f"{ALOHA.key}; {FACTS.at('5')}",
    status=DERIVED,
    chance=CHANCE_OF_FAILURE,
)
def test_drawn_phases_meet_as_often_as_random_ones() -> None:
    # (a + b)/T = 2 x 1280 us / 5 ms; one observation a start.
    starts, probability = 1000, 2 * 1280 / 5000
    scenario = parse(f"""
duration_s = 0.022
radio.profile = "gfsk-250k"
{UP_AT_ONCE}
air.loss = 0
receiver.boot_s = 0
transmitter.mine = {{ boot_s = 0, period_ms = 5, payload_bytes = 32, acknowledge = false, \
clock_ppm = 0 }}
transmitter.other = {{ boot_s = 0, period_ms = 5, payload_bytes = 32, acknowledge = false, \
clock_ppm = 0 }}
""")
    hit = sum(
        int(of_stream(simulate(scenario, start=start).attempts, 0)["fate"][2] == COLLISION)
        for start in range(starts)
    )

    check.share(hit, starts, probability)
