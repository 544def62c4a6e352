"""`radiosim range`: how far a link reaches."""

from dataclasses import dataclass

from radiosim.cli.ending import DONE
from radiosim.cli.options import OfScenario, PageAndFiles, Seeded, Simulates, option


@dataclass(frozen=True, kw_only=True)
class RangeOptions(OfScenario, Seeded, PageAndFiles, Simulates):
    """Options of `radiosim range`."""

    COMMAND = "range"

    points: int = option("N", "How many distances.", default=12, low=2, high=100)
    starts: int | None = option(
        "N", "Starts at each distance; left out: the scenario's, at most 6.", low=1
    )
    duration_s: float | None = option(
        "D", "Seconds of each start; left out: the scenario's, at most 60."
    )


def reach(options: RangeOptions) -> int:
    """Tell what arrives at which distance, as predicted ranges, and how far requirements hold."""
    from radiosim.cli.harness import origin_of
    from radiosim.cli.running import running
    from radiosim.cli.scenario_source import load_scenario
    from radiosim.cli.targets import write_report
    from radiosim.report.range import range_report
    from radiosim.study import range as study

    starts, duration_s = options.starts, options.duration_s
    whole = load_scenario(
        options.source, options.set_, starts=starts, seed=options.seed, duration_s=duration_s
    )
    scenario = study.shortened(whole, starts, duration_s)
    origin = origin_of(options, options.source, scenario.seed)
    distances = study.distances_of(scenario, options.points)
    with running(options, scenario, 3 * len(distances), "points") as how:
        found = study.reach(scenario, distances, **how)
    write_report(range_report(found, scenario, origin), options)
    return DONE
