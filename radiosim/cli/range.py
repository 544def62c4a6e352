"""`radiosim range`: how far a link reaches."""

from typing import Annotated

import typer

from radiosim.cli.exits import DONE
from radiosim.cli.options import Csv, Json, PageFile, Parquet, Seed, Set, Source, Workers


def reach(
    *,
    source: Source,
    points: Annotated[
        int, typer.Option(metavar="N", min=2, max=100, help="How many distances.")
    ] = 12,
    starts: Annotated[
        int | None,
        typer.Option(
            metavar="N", min=1, help="Starts at each distance; left out: the scenario's, at most 6."
        ),
    ] = None,
    duration_s: Annotated[
        float | None,
        typer.Option(
            metavar="D", help="Seconds of each start; left out: the scenario's, at most 60."
        ),
    ] = None,
    seed: Seed = None,
    set_: Set = None,
    json: Json = None,
    csv: Csv = None,
    parquet: Parquet = None,
    page: PageFile = None,
    workers: Workers = None,
) -> int:
    """Tell what arrives at which distance, as bands, and how far the requirements hold."""
    from radiosim.cli.page import command_line
    from radiosim.cli.progress import progress
    from radiosim.cli.source import Choice, scenario_of
    from radiosim.cli.targets import check_targets
    from radiosim.cli.written import write_report
    from radiosim.report.range import range_report
    from radiosim.results.document import Origin
    from radiosim.study import range as study
    from radiosim.version import VERSION

    check_targets(json, csv, parquet, files={"--page": page}, scenarios=(source,), set_=set_)
    choice = Choice(
        source=source,
        starts=starts,
        seed=seed,
        duration_s=duration_s,
        overrides=tuple(set_ or ()),
        workers=workers,
    )
    scenario_text = "" if page is None else choice.scenario_text()
    scenario = study.shortened(scenario_of(choice), starts, duration_s)
    distances = study.distances_of(scenario, points)
    with progress(3 * len(distances), what="points") as on_progress:
        found = study.reach(scenario, distances, workers=workers, on_progress=on_progress)
    options = {
        "--points": points,
        "--starts": starts,
        "--duration-s": duration_s,
        "--seed": seed,
        "--set": set_ or (),
        "--page": page,
    }
    origin = Origin(
        command=command_line("range", source, options=options),
        scenario_name=source,
        scenario_text=scenario_text,
        seed=scenario.seed,
        version=VERSION,
    )
    report = range_report(found, scenario, origin)
    write_report(report, json=json, csv=csv, parquet=parquet, page=page)
    return DONE
