"""`radiosim bench-test`: a sheet of steps to try on the bench."""

from dataclasses import dataclass

from radiosim.cli.ending import DONE
from radiosim.cli.options import OfScenario, PageAndFiles, Seeded, Simulates, option


@dataclass(frozen=True, kw_only=True)
class BenchTestOptions(OfScenario, Seeded, PageAndFiles, Simulates):
    """Options of `radiosim bench-test`."""

    COMMAND = "bench-test"

    starts: int = option(
        "N", "Starts of each predicted range; 39 make 95 %.", default=39, low=3, high=1000
    )
    minutes: float = option(
        "M", "How long frames are counted for.", default=10.0, low=0.05, high=600.0
    )


def bench_test(options: BenchTestOptions) -> int:
    """Write a bench test sheet: what to try, how to measure it, and what should come out."""
    from radiosim.cli.harness import origin_of
    from radiosim.cli.running import running
    from radiosim.cli.scenario_source import load_scenario
    from radiosim.cli.targets import write_report
    from radiosim.report.bench_test import bench_test_report
    from radiosim.study.bench import bench_test_sheet

    scenario = load_scenario(options.source, options.set_, seed=options.seed)
    origin = origin_of(options, options.source, scenario.seed)
    with running(options, scenario, 2 * options.starts, "tries") as how:
        sheet = bench_test_sheet(scenario, starts=options.starts, minutes=options.minutes, **how)
    write_report(bench_test_report(sheet, origin), options)
    return DONE
