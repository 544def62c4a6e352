"""A report of each command, small enough to be made in a test."""

from functools import cache

from radiosim.assess.in_words import worst_start
from radiosim.engine.simulate import simulate
from radiosim.findings import diagnosed
from radiosim.layout.compare import compare
from radiosim.report.bench_test import bench_test_report
from radiosim.report.channels import channels_report
from radiosim.report.drill import drill_report
from radiosim.report.firmware import firmware_report
from radiosim.report.fit import fit_report
from radiosim.report.layout_check import checks_data, checks_report
from radiosim.report.layout_compare import compare_report
from radiosim.report.layouts import layout_report
from radiosim.report.range import range_report
from radiosim.report.run import run_report
from radiosim.report.tune import tune_report
from radiosim.results.document import Origin, Report
from radiosim.scenario import Scenario, parse
from radiosim.study.channels import channels
from radiosim.study.drill.results import Drilled
from radiosim.study.range import Reach, reach, shortened
from radiosim.study.starts import simulate_starts
from radiosim.study.tune.confirm import confirmed
from radiosim.study.tune.tune_results import Tuned
from radiosim.study.tune.tuned import tuned
from radiosim.study.tune.varied import grid, parsed
from tests.report.bench_sheets import a_sheet
from tests.report.layout_samples import a_change, layouts
from tests.report.program_samples import FAULT, LINK, program_results
from tests.study.drill.scenarios import HEAD, TIMER, drilled, scenario_with
from tests.study.fit.samples import a_fit
from tests.study.tune.scenarios import two

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
    return far, reach(far, 4, workers=1)


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
    summary = diagnosed(given, summary, workers=1)
    shown = simulate(given, start=worst_start(summary))
    return run_report(summary, given, origin_of("run"), shown=shown)


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


@cache
def a_drill() -> Drilled:
    """Two streams, one of them fed by the other: something is still driven; and trips."""
    lossy = scenario_with(TIMER + 'fed_by = "any"\n' + HEAD, "air.loss=0.8")
    return drilled(lossy, repeats=8)


@cache
def a_sound_drill() -> Drilled:
    return drilled(scenario_with(TIMER), "power_off", repeats=8, hours=0.2)


@cache
def a_failsafe() -> Report:
    return drill_report(a_drill(), origin_of("failsafe"), speed_m_s=2)


@cache
def a_tuning() -> Tuned:
    settings = (
        parsed("transmitter.drive.period_ms=10,20,23,40"),
        parsed("transmitter.head.period_ms=13,20,23"),
    )
    return confirmed(tuned(two(), settings, grid(settings), workers=1), two(), two(), workers=1)


@cache
def a_tune() -> Report:
    return tune_report(a_tuning(), origin_of("tune"))


@cache
def a_firmware() -> Report:
    found = program_results(ok=False)
    return firmware_report(found, parse(FAULT + LINK), origin_of("firmware"))


def a_fit_report() -> Report:
    return fit_report(a_fit(), origin_of("fit"))


REPORTS = {
    "run": a_run,
    "range": a_range,
    "channels": a_channels,
    "layout show": a_layout,
    "layout check": a_layout_check,
    "layout compare": a_layout_comparison,
    "bench-test": a_bench_test,
    "failsafe": a_failsafe,
    "tune": a_tune,
    "firmware": a_firmware,
    "fit": a_fit_report,
}
FIGURES: dict[str, set[str]] = {
    "run": {"gaps", "worst", "beats", "latency", "first"},
    "range": {"range"},
    "channels": set(),
    "layout show": {"bytes"},
    "layout check": set(),
    "layout compare": {"bytes-old", "bytes-new", "change"},
    "bench-test": set(),
    "failsafe": {"reactions", "trade-off-0", "trade-off-1"},
    "tune": {"periods", "pareto-front", "influence"},
    "firmware": set(),
    "fit": {"bench-values", "bench-gaps", "bench-offsets"},
}
"""Names of the figures on the page of each."""
