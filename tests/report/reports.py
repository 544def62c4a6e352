"""A report of each command, small enough to be made in a test."""

from functools import cache

from radiosim.report.channels import channels_report
from radiosim.report.range import range_report
from radiosim.results.document import Origin, Report
from radiosim.scenario import Scenario, parse
from radiosim.study.channels import channels
from radiosim.study.range import Reach, reach, shortened

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


REPORTS = {"range": a_range, "channels": a_channels}
FIGURES: dict[str, set[str]] = {"range": {"range"}, "channels": set()}
"""Names of the figures on the page of each."""
CAUTIONS = {"range": "propellers off", "channels": "check your local radio rules"}
"""What each has to warn of."""
