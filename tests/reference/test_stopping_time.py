"""How long outputs stay alive after their transmitter falls silent, against the closed form of rule
F6.

Source: derived (D) from the parts of the path: wait in the FIFO W, timeout D, longest pass L,
refresh period R, pulse w. Bound: `preset` W + D + L + R + w, `off` W + D + L + a live pulse. With
equal polled passes the worst that can be reached is W + (floor(D/L) + 1) L + R + w; where the timer
is fed off the grid of the passes (by interrupts, or at arrival) the whole bound can be reached.

Drills: one transmitter is switched off and on again time after time, at instants that fall on every
phase of its period, of the passes and of the pulses; several outputs pulse at spread phases. No
loss, no clock error that is drawn: no chance in it. Timed from the end of the last accepted
attempt. None may pass the bound; the worst must come within 2 % of what can be reached: steps of a
few per cent of a pass and of a pulse period are finer than that.
"""

from typing import NamedTuple

import numpy as np
import numpy.typing as npt
import pytest

from radiosim.engine.plan import Plan, make_plan
from radiosim.engine.simulate import simulate
from radiosim.scenario import Scenario, parse
from radiosim.trace import CUT, NEW, Trace
from radiosim.units import ns_from_ms, ns_from_s
from radiosim.vehicle.fold.program_state import FAILSAFE
from radiosim.vehicle.reaction_bound import bound_of, reachable_worst_ns
from radiosim.vehicle.vehicle import OutputRecord, run_vehicle
from tests.reference.outside import DERIVED, check, outside
from tests.reference.runs import UP_AT_ONCE, of_stream
from tests.reference.sources import MODEL

Spans = npt.NDArray[np.int64]
CUTS = 60
PULSE_PHASES = 20
"""Outputs, each with a phase of its own over one pulse period of 20 ms."""
GOLDEN, ROOT = 0.6180339887498949, 0.4142135623730951
"""Steps of such a share of a span fill the span evenly, and the two together an area."""


def cuts_s() -> list[tuple[float, float]]:
    """When the transmitter is switched off, and for how long.

    It then starts afresh on every phase of passes of up to 100 ms; it is switched off on every
    phase of its period, each third time within the 0.3 ms in which a frame is on its way.
    """
    cuts, on_s = [], 0.0
    for i in range(CUTS):
        share, other_share = i * GOLDEN % 1, i * ROOT % 1
        at_s = round(on_s + 0.4 + share * (0.0003 if i % 3 == 0 else 0.02), 7)
        for_s = round(0.9 + other_share * 0.1, 7)
        cuts.append((at_s, for_s))
        on_s = at_s + for_s
    return cuts


class Drill(NamedTuple):
    """A receiver program, a failsafe and an output."""

    receiver: str
    timeout_ms: float = 250
    fed_at: str = "read"
    period_ms: float = 20
    acknowledge: str = "true"
    clock_ppm: float = 0
    spi_overhead_us: float = 0
    output: str = 'kind = "servo"\non_failsafe = { preset_us = 1500 }'
    beside: str = ""
    """Another transmitter."""

    def scenario(self) -> Scenario:
        """The scenario; unless said otherwise reads are short beside a pass: passes are equal."""
        cuts = cuts_s()
        text = f"""
duration_s = {sum(cuts[-1])}
radio.profile = "gfsk-1M"
{UP_AT_ONCE}
air.loss = 0
layout.drive = {{ fields = [{{ name = "count", type = "u8" }}, {{ name = "pull", type = "u8" }}] }}
[receiver]
boot_s = 0
clock_ppm = {self.clock_ppm}
spi_hz = 100_000_000
spi_overhead_us = {self.spi_overhead_us}
{self.receiver}
[transmitter.drive]
boot_s = 0
layout = "drive"
period_ms = {self.period_ms}
offset_ms = 0
clock_ppm = 0
acknowledge = {self.acknowledge}
[transmitter.drive.signals]
count = {{ kind = "counter" }}
pull = {{ kind = "constant", value = 255 }}
{self.beside}
[failsafe.drive]
timeout_ms = {self.timeout_ms}
fed_at = "{self.fed_at}"
"""
        for i in range(PULSE_PHASES):
            text += f"""
[output.p{i}]
stream = "drive"
field = "pull"
phase_ms = {i * 20 / PULSE_PHASES}
{self.output}
"""
        for at_s, for_s in cuts:
            text += f"""
[[fault]]
kind = "power_off"
unit = "drive"
at_s = {at_s}
for_s = {for_s}
"""
        return parse(text)


def stopped_ns(record: OutputRecord, on_failsafe_off: bool, last_ns: int) -> int:
    """When the failsafe value was in effect for the first time after `last_ns`."""
    told, effects = record.told, record.effects
    entry = int(np.flatnonzero((told["kind"] == FAILSAFE) & (told["at_ns"] > last_ns))[0])
    if on_failsafe_off:
        live = effects["end_ns"][(effects["entry"] < entry) & ~np.isnan(effects["level"])]
        return max(int(told["at_ns"][entry]), int(live[-1]))
    return int(effects["end_ns"][np.flatnonzero(effects["entry"] >= entry)[0]])


def last_accepted_ns(trace: Trace, cut_ns: int) -> int:
    drive = of_stream(trace.attempts, 0)
    accepted = drive["end_ns"][drive["fate"] == NEW]
    return int(accepted[accepted <= cut_ns].max())


def measured(scenario: Scenario) -> tuple[Plan, Spans]:
    """Reaction times of all cuts (rows) and outputs (columns), ns."""
    trace = simulate(scenario)
    plan = make_plan(scenario, 0)
    vehicle = run_vehicle(trace)
    stream, records = vehicle.streams[0], [vehicle.outputs[f"p{i}"] for i in range(PULSE_PHASES)]
    is_off = scenario.output["p0"].on_failsafe == "off"
    times = []
    for at_s, _ in cuts_s():
        last_ns = last_accepted_ns(trace, ns_from_s(at_s))
        times.append([stopped_ns(record, is_off, last_ns) - last_ns for record in records])
    # Every cut is an entry of its own, and there are no others; some fell into an attempt.
    assert len(stream.entries) == CUTS
    assert CUT in trace.attempts["fate"]
    return plan, np.array(times, np.int64)


BUSY = "[transmitter.head]\nperiod_ms = 30\noffset_ms = 7\npayload_bytes = 2\nclock_ppm = 0"
"""Goes on sending, so that passes of 30 ms go on reading."""
OFF = 'kind = "servo"\non_failsafe = "off"'
PWM = 'kind = "pwm"\non_failsafe = { preset = 0 }'
ON_THE_GRID = {
    "one": Drill('read = "one"'),
    "all": Drill('read = "all"'),
    "newest": Drill('read = "newest"'),
    "one, long passes": Drill("read = 'one'\nloop_ms = 40\ndelay_ms = 10", 230),
    "one, full FIFO": Drill("read = 'one'\nloop_ms = 50", 230, period_ms=10, acknowledge="false"),
    "one, full FIFO, retries": Drill("read = 'one'\nloop_ms = 50", 230, period_ms=10),
    "all, long passes": Drill("read = 'all'\nloop_ms = 50", 230),
    "all, beside another stream": Drill("read = 'all'\nloop_ms = 30", 230, beside=BUSY),
    "newest, long passes": Drill("read = 'newest'\nloop_ms = 50", 230),
    "newest, pass above timeout": Drill("read = 'newest'\nloop_ms = 70", 60),
    "off": Drill('read = "one"', output=OFF),
    "off, long passes": Drill("read = 'all'\nloop_ms = 50", 230, output=OFF),
    "pwm": Drill('read = "one"', output=PWM),
    "pwm, full FIFO": Drill(
        "read = 'one'\nloop_ms = 50", 230, period_ms=10, acknowledge="false", output=PWM
    ),
}
OFF_THE_GRID = {
    "interrupt": Drill("interrupt = true"),
    "interrupt, long passes": Drill("interrupt = true\nloop_ms = 50", 230),
    "interrupt, off": Drill("interrupt = true\nloop_ms = 50", 230, output=OFF),
    "interrupt, pwm": Drill("interrupt = true\nloop_ms = 50", 230, output=PWM),
    "fed at arrival": Drill("read = 'all'\nloop_ms = 50", 230, fed_at="arrival"),
}
UNEVEN = {
    "slow clock": Drill("loop_ms = 40", 230, clock_ppm=20_000),
    "fast clock": Drill("loop_ms = 40", 230, clock_ppm=-20_000),
    "work": Drill("work = [{ every_ms = 70, takes_ms = 9 }]"),
    "work, full FIFO": Drill(
        "loop_ms = 20\nwork = [{ every_ms = 70, takes_ms = 9 }]",
        period_ms=10,
        acknowledge="false",
    ),
    "interrupts off": Drill(
        "interrupt = true\nwork = [{ every_ms = 23, takes_ms = 9, interrupts_off = true }]"
    ),
    "slow bus": Drill("read = 'all'\nloop_ms = 20", spi_overhead_us=3000),
    "slow bus, full FIFO": Drill("loop_ms = 20", period_ms=10, spi_overhead_us=3000),
    "slow bus, off": Drill("read = 'newest'\nloop_ms = 20", spi_overhead_us=3000, output=OFF),
}


def worst_and_bound(drill: Drill) -> tuple[int, int, int]:
    """Worst of the measured times, what equal polled passes can reach, and the bound, ns."""
    scenario = drill.scenario()
    plan, times = measured(scenario)
    bound = bound_of(scenario, plan, "p0")
    assert bound.total_ns is not None
    reachable_ns = reachable_worst_ns(
        plan, bound, ns_from_ms(drill.timeout_ms), fed_at_arrival=drill.fed_at == "arrival"
    )
    return int(times.max()), reachable_ns, bound.total_ns


@outside(
    "worst stopping time over what equal polled passes can reach, W + (floor(D/L) + 1) L + R + w",
    source=MODEL.at("F6"),
    status=DERIVED,
)
@pytest.mark.parametrize("name", ON_THE_GRID)
def test_polled_passes_reach_their_worst_and_never_pass_it(name: str) -> None:
    worst_ns, reachable_ns, bound_ns = worst_and_bound(ON_THE_GRID[name])

    assert reachable_ns <= bound_ns
    check.between(worst_ns / reachable_ns, 0.98, 1, expected=1)


@outside(
    "worst stopping time over the bound, timers fed between passes",
    source=MODEL.at("F6"),
    status=DERIVED,
)
@pytest.mark.parametrize("name", OFF_THE_GRID)
def test_timers_fed_between_passes_reach_the_bound_and_never_pass_it(name: str) -> None:
    worst_ns, _, bound_ns = worst_and_bound(OFF_THE_GRID[name])

    check.between(worst_ns / bound_ns, 0.98, 1, expected=1)


@outside("worst stopping time over the bound, uneven passes", source=MODEL.at("F6"), status=DERIVED)
@pytest.mark.parametrize("name", UNEVEN)
def test_uneven_passes_never_pass_the_bound(name: str) -> None:
    worst_ns, _, bound_ns = worst_and_bound(UNEVEN[name])

    # No closed form says how near an uneven pass can come: half way is asked for.
    check.between(worst_ns / bound_ns, 0.5, 1, expected=1)
