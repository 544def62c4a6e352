"""Failsafe drills against the closed form of rule F6, and timeouts against runs of losses.

Sources: stopping times derived (D) as in `test_stopping_time.py`: with equal polled passes the
worst that can be reached is W + (floor(D/L) + 1) L + R + w, with timers fed between passes the
bound. Here fault phase, schedule offset and refresh phase are those that `radiosim failsafe`
chooses by itself: some hundred faults must come within 2 % of it. Trips: W. Feller, "An
Introduction to Probability Theory and Its Applications", vol. I, XIII.7: runs of k or more losses
come once in 1/(q p^k) frames, and a timeout D clear of ties needs k = floor(D/T) of them; all
timeouts are tried on the same rows.
"""

from typing import NamedTuple

import pytest

from radiosim.scenario import parse
from radiosim.study.drill.drill import DrillOptions, drill_failsafe
from radiosim.study.drill.trade_off import trips_of
from tests.reference.outside import (
    CHANCE_OF_FAILURE,
    DERIVED,
    MEMORY,
    check,
    outside,
)
from tests.reference.runs import UP_AT_ONCE
from tests.reference.sources import FELLER, MODEL

POINTS = 256
SILENT = ("power_off", "out_of_range", "jam", "radio_reset", "hang")
PRESET, OFF = "{ preset_us = 1500 }", '"off"'


class Vehicle(NamedTuple):
    """A receiver program, a failsafe and an output."""

    receiver: str
    timeout_ms: float = 250
    fed_at: str = "read"
    period_ms: float = 20
    acknowledge: str = "true"
    output: str = f'kind = "servo"\non_failsafe = {PRESET}'

    def text(self) -> str:
        """The scenario; reads are short beside a pass, so that passes are equal."""
        return f"""
duration_s = 10
radio.profile = "gfsk-1M"
{UP_AT_ONCE}
air.loss = 0
[receiver]
boot_s = 0
clock_ppm = 0
spi_hz = 100_000_000
spi_overhead_us = 0
{self.receiver}
[layout.drive]
fields = [{{ name = "count", type = "u8" }}, {{ name = "pull", type = "u8" }}]
[transmitter.drive]
boot_s = 0
layout = "drive"
period_ms = {self.period_ms}
acknowledge = {self.acknowledge}
[transmitter.drive.signals]
count = {{ kind = "counter" }}
pull = {{ kind = "constant", value = 255 }}
[failsafe.drive]
timeout_ms = {self.timeout_ms}
fed_at = "{self.fed_at}"
[output.motor]
stream = "drive"
field = "pull"
{self.output}
"""


VEHICLES = {
    "one": Vehicle('read = "one"'),
    "all": Vehicle('read = "all"'),
    "newest": Vehicle('read = "newest"'),
    "one, full FIFO": Vehicle("loop_ms = 50", 230, period_ms=10, acknowledge="false"),
    "all, long passes": Vehicle("read = 'all'\nloop_ms = 50", 230),
    "newest, pass above timeout": Vehicle("read = 'newest'\nloop_ms = 70", 60),
    "off": Vehicle("read = 'all'\nloop_ms = 13", output=f'kind = "servo"\non_failsafe = {OFF}'),
    "pwm": Vehicle("read = 'all'", output='kind = "pwm"\non_failsafe = { preset = 0 }'),
    "interrupt": Vehicle("interrupt = true\nloop_ms = 13"),
    "fed at arrival": Vehicle("read = 'all'\nloop_ms = 13", fed_at="arrival"),
}
AT_A_DESK = ("off",)


@outside(
    "worst drilled stop over the worst that can be reached, W + (floor(D/L) + 1) L + R + w",
    source=MODEL.at("F6"),
    status=DERIVED,
)
@pytest.mark.parametrize(
    "name",
    [
        name if name in AT_A_DESK else pytest.param(name, marks=pytest.mark.slow)
        for name in VEHICLES
    ],
)
def test_drills_come_near_the_worst_and_never_pass_it(name: str) -> None:
    skip = ("reset", "brownout", "stale")
    drill_options = DrillOptions(repeats=POINTS, skip=skip, hours=0.001, workers=1)
    found = drill_failsafe(parse(VEHICLES[name].text()), drill_options)

    silent = [d for d in found.drills if (d.fault, d.unit) != ("hang", "receiver")]
    assert {drill.fault for drill in silent} == set(SILENT)
    for drill in silent:
        assert drill.repeats == POINTS
        assert drill.reachable_ms is not None
        assert drill.silence_ms.max is not None
    worst = max((d.silence_ms.max or 0) / (d.reachable_ms or 1) for d in silent)
    check.between(worst, 0.98, 1 + 1e-9, expected=1)


PERIOD_MS, LOSS = 20, 0.5
FRAMES_PER_START, STARTS = 50_000, 6
TIMEOUTS_MS = (50, 70, 90, 110, 130, 150)


@outside(
    "nuisance trips of several timeouts on the same rows, one in 1/(q p^k) frames",
    source=FELLER.at("XIII.7"),
    status=MEMORY,
    chance=CHANCE_OF_FAILURE,
    unit="trips",
)
@pytest.mark.parametrize("timeout_ms", TIMEOUTS_MS)
def test_the_trade_of_a_timeout_is_that_of_runs_of_losses(timeout_ms: int) -> None:
    counter = '[{ name = "count", type = "u64" }]'
    scenario = parse(f"""
duration_s = {FRAMES_PER_START * PERIOD_MS / 1000}
radio.profile = "gfsk-2M"
{UP_AT_ONCE}
air.loss = {LOSS}
failsafe.drive = {{ timeout_ms = 250 }}
layout.drive = {{ fields = {counter} }}
[receiver]
boot_s = 0
clock_ppm = 0
read = "all"
spi_hz = 100_000_000
spi_overhead_us = 0
[transmitter.drive]
boot_s = 0
layout = "drive"
period_ms = {PERIOD_MS}
clock_ppm = 0
acknowledge = "flag"
signals.count = {{ kind = "counter" }}
""")
    found = [trips_of(scenario, start, "auto", TIMEOUTS_MS) for start in range(STARTS)]
    trips = sum(start.counts["drive"][TIMEOUTS_MS.index(timeout_ms)] for start in found)

    k = timeout_ms // PERIOD_MS
    check.events(trips, STARTS * FRAMES_PER_START * (1 - LOSS) * LOSS**k)
