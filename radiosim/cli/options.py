"""Options that several commands have."""

from pathlib import Path
from typing import Annotated

import typer

Source = Annotated[
    str, typer.Argument(metavar="SCENARIO", help="Scenario file, or name of a shipped scenario.")
]
Seed = Annotated[
    int | None, typer.Option("--seed", metavar="S", help="Where every draw comes from.")
]
Set = Annotated[
    list[str] | None,
    typer.Option(
        "--set",
        metavar="KEY=VALUE",
        help="Set any key of the scenario, as transmitter.drive.period_ms=15; repeatable.",
    ),
]
Json = Annotated[
    str | None, typer.Option("--json", metavar="FILE", help="Write it as JSON; -: only that.")
]
Csv = Annotated[
    Path | None, typer.Option("--csv", metavar="FOLDER", help="Write it as CSV tables.")
]
Parquet = Annotated[
    Path | None,
    typer.Option("--parquet", metavar="FOLDER", help="The same tables as Parquet."),
]
PageFile = Annotated[
    Path | None,
    typer.Option("--page", metavar="FILE.html", help="Write a page to read, share or print."),
]
Resume = Annotated[
    Path | None,
    typer.Option(
        "--resume", metavar="FILE", help="Keep what is done in this file, and go on with it."
    ),
]
Cluster = Annotated[
    str | None,
    typer.Option(
        "--cluster", metavar="ADDRESS", help="Run on a dask.distributed cluster, as tcp://a:8786."
    ),
]
EngineName = Annotated[
    str,
    typer.Option(
        "--engine", metavar="NAME", help="auto, fast (compiled) or reference (for reading)."
    ),
]
Workers = Annotated[
    int | None,
    typer.Option("--workers", metavar="N", min=1, help="Processes to simulate with."),
]
