"""`radiosim bench-test`: a sheet of steps to try on the bench."""

from typing import Annotated

import typer

from radiosim.cli.exits import DONE
from radiosim.cli.options import Csv, Json, PageFile, Parquet, Seed, Set, Source, Workers


def bench_test(
    *,
    source: Source,
    page: PageFile = None,
    starts: Annotated[
        int,
        typer.Option(
            metavar="N", min=3, max=1000, help="Starts of each predicted range; 39 make 95 %."
        ),
    ] = 39,
    minutes: Annotated[
        float,
        typer.Option(metavar="M", min=0.05, max=600.0, help="How long frames are counted for."),
    ] = 10.0,
    seed: Seed = None,
    set_: Set = None,
    json: Json = None,
    csv: Csv = None,
    parquet: Parquet = None,
    workers: Workers = None,
) -> int:
    """Write a bench test sheet: what to try, how to measure it, and what should come out."""
    from radiosim.cli.page import command_line
    from radiosim.cli.progress import progress
    from radiosim.cli.source import Choice, scenario_of
    from radiosim.cli.targets import check_targets
    from radiosim.cli.written import write_report
    from radiosim.report.bench_test import bench_test_report
    from radiosim.results.document import Origin
    from radiosim.study.bench import bench_test_sheet
    from radiosim.version import VERSION

    check_targets(json, csv, parquet, files={"--page": page}, scenarios=(source,), set_=set_)
    scenario = scenario_of(Choice(source=source, seed=seed, overrides=tuple(set_ or ())))
    with progress(1, what="tries") as on_progress:
        sheet = bench_test_sheet(
            scenario, starts=starts, minutes=minutes, workers=workers, on_progress=on_progress
        )
    options = {
        "--starts": starts,
        "--minutes": minutes,
        "--seed": seed,
        "--set": set_ or (),
        "--page": page,
    }
    origin = Origin(
        command=command_line("bench-test", source, options=options),
        scenario_name=source,
        seed=sheet.seed,
        version=VERSION,
    )
    report = bench_test_report(sheet, origin)
    write_report(report, json=json, csv=csv, parquet=parquet, page=page)
    return DONE
