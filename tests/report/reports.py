"""A report of each command, small enough to be made in a test."""

from functools import cache

from msgspec.structs import replace

from radiosim.assess.worst import worst_start
from radiosim.engine.simulate import simulate
from radiosim.findings import find
from radiosim.report.channels import channels_report
from radiosim.report.range import range_report
from radiosim.report.run import run_report
from radiosim.results.document import Origin, Report
from radiosim.scenario import Scenario, parse
from radiosim.study.channels import channels
from radiosim.study.range import Reach, reach, shortened
from radiosim.study.starts import simulate_starts

FAR = """
starts = 2
duration_s = 5
radio.profile = "gfsk-1M"
transmitter.drive = { period_ms = 20, payload_bytes = 6 }
failsafe.drive = { timeout_ms = 250 }
air.range = { distance_m = 10 }
[[requirement]]
figure = "stream.drive.gap_ms.max"
at_most = 200
"""
HALL = 'interferer.hall = { kind = "bursts", channel_mhz = 2468, power_dbm_at_receiver = -50 }\n'


def origin_of(command: str) -> Origin:
    return Origin(
        command=f"radiosim {command} a",
        scenario_name="a",
        scenario_text="x = 1",
        seed=1,
        version="0",
    )


@cache
def a_reach() -> tuple[Scenario, Reach]:
    far = shortened(parse(FAR), None, None)
    return far, reach(far, (5.0, 50.0, 500.0, 5000.0), workers=1)


@cache
def a_range() -> Report:
    far, found = a_reach()
    return range_report(found, far, origin_of("range"))


@cache
def a_channels() -> Report:
    given = parse(HALL + FAR)
    return channels_report(given, channels(given), origin_of("channels"))


DRIVEN = (
    'title = "A page </main>"\n'
    + FAR.partition("air.range")[0]
    + """
transmitter.head_all_around_from_above = { period_ms = 23, payload_bytes = 4 }
[output.motor]
stream = "drive"
field = "value"
on_failsafe = { preset_us = 1500 }
motor = { stop_s = 0.4 }
[output.a_name_that_is_long_for_a_small_screen]
stream = "head_all_around_from_above"
field = "value"
[[fault]]
at_s = 2
kind = "power_off"
unit = "drive"
for_s = 1
[[requirement]]
figure = "stream.drive.gap_ms.max"
at_most = 200
"""
)


@cache
def a_run() -> Report:
    """Two starts with findings, pictures, faults, and a requirement that does not hold."""
    given = parse(DRIVEN)
    summary = simulate_starts(given, workers=1, has_curves=True)
    summary = replace(summary, findings=find(given, summary))
    shown = simulate(given, start=worst_start(summary))
    return run_report(summary, given, origin_of("run"), shown=shown)


REPORTS = {"run": a_run, "range": a_range, "channels": a_channels}
FIGURES: dict[str, set[str]] = {
    "run": {"gaps", "worst", "beats", "latency", "first"},
    "range": {"range"},
    "channels": set(),
}
"""Names of the figures on the page of each."""
CAUTIONS = {
    "run": "propellers off",
    "range": "propellers off",
    "channels": "check your local radio rules",
}
"""What each has to warn of."""
