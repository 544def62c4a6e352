"""Scenarios that show one finding each, and their twins in which it must stay silent."""

from radiosim.findings import diagnosed
from radiosim.measure.summary import Finding, Summary
from radiosim.scenario import Scenario, parse
from radiosim.study.starts import simulate_starts

BASE = """
duration_s = 20
starts = 3
radio.profile = "gfsk-1M"
air.loss = 0.02
receiver = { loop_ms = 1, read = "all", clock_ppm = 0, watchdog_ms = 500, recheck_ms = 100 }

[layout.drive_v1]
fields = [
  { name = "count", type = "u8" },
  { name = "throttle", type = "i16", scale = 0.001, min = -1.0, max = 1.0 },
]

[layout.head_v1]
fields = [
  { name = "count", type = "u8" },
  { name = "pan", type = "i16", scale = 0.1, min = -90.0, max = 90.0 },
]

[transmitter.drive]
layout = "drive_v1"
period_ms = 20
jitter_ms = 0.3
recheck_ms = 100
retry_delay_us = 500
signals.count = { kind = "counter" }
signals.throttle = { kind = "sine", period_s = 3.7, amplitude = 0.8 }

[transmitter.head]
layout = "head_v1"
period_ms = 23
jitter_ms = 0.3
recheck_ms = 100
retry_delay_us = 1750
signals.count = { kind = "counter" }

[failsafe.drive]
timeout_ms = 250
watch_field = "count"
resume_needs = { field = "throttle", within = 0.05 }

[failsafe.head]
timeout_ms = 300
watch_field = "count"

[output.motor]
stream = "drive"
field = "throttle"
on_failsafe = { preset_us = 1500 }
motor = { stop_s = 0.4 }

[output.pan]
stream = "head"
field = "pan"
on_failsafe = { preset_us = 1500 }
"""


def scenario_with(*overrides: str) -> Scenario:
    """A scenario in which nothing is wrong, with keys set otherwise."""
    return parse(BASE, overrides=overrides)


def found(*overrides: str) -> dict[str, Finding]:
    """What is found, by the path that it is about."""
    return {finding.where: finding for finding in run_of(*overrides).findings or ()}


def run_of(*overrides: str) -> Summary:
    """The run of the scenario with keys set otherwise, with all that is found."""
    scenario = scenario_with(*overrides)
    return diagnosed(
        scenario,
        simulate_starts(scenario, workers=1),
        reread=lambda lines: scenario_with(*overrides, *lines),
        workers=1,
    )
