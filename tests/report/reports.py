"""A report of each command, small enough to be made in a test."""

from functools import cache

from radiosim.layout.compare import compare
from radiosim.report.bench_test import bench_test_report
from radiosim.report.channels import channels_report
from radiosim.report.layout_compare import compare_report
from radiosim.report.layouts import checks_data, checks_report, layout_report
from radiosim.report.range import range_report
from radiosim.results.document import Origin, Report
from radiosim.scenario import Scenario, parse
from radiosim.study.channels import channels
from radiosim.study.range import Reach, reach, shortened
from tests.report.bench_sheets import a_sheet
from tests.report.layout_samples import a_change, layouts

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


@cache
def a_layout() -> Report:
    return layout_report(layouts()[1], origin_of("layout show"))


@cache
def a_layout_check() -> Report:
    return checks_report(layouts(), checks_data(layouts()), origin_of("layout check"))


@cache
def a_layout_comparison() -> Report:
    old, new = layouts()
    return compare_report(
        compare(old.layout, new.layout),
        (old, new),
        "own",
        origin_of("layout compare"),
        link=a_change(),
    )


@cache
def a_bench_test() -> Report:
    return bench_test_report(a_sheet(), origin_of("bench-test"))


REPORTS = {
    "range": a_range,
    "channels": a_channels,
    "layout show": a_layout,
    "layout check": a_layout_check,
    "layout compare": a_layout_comparison,
    "bench-test": a_bench_test,
}
FIGURES: dict[str, set[str]] = {
    "range": {"range"},
    "channels": set(),
    "layout show": {"bytes"},
    "layout check": set(),
    "layout compare": {"bytes-old", "bytes-new", "change"},
    "bench-test": set(),
}
"""Names of the figures on the page of each."""
CAUTIONS = {
    "range": "propellers off",
    "channels": "check your local radio rules",
    "layout show": "propellers off",
    "layout check": "propellers off",
    "layout compare": "propellers off",
    "bench-test": "Wheels off the ground",
}
"""What each has to warn of."""
