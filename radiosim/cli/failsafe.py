"""`radiosim failsafe`: drill every fault, and weigh the timeouts."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from radiosim.cli.exits import DONE, NOT_HELD
from radiosim.cli.options import (
    Cluster,
    Csv,
    EngineName,
    Json,
    PageFile,
    Parquet,
    Resume,
    Seed,
    Set,
    Source,
    Workers,
)

if TYPE_CHECKING:
    from radiosim.scenario import Scenario
    from radiosim.study.drill import Drilled, DrillOptions


def failsafe(
    *,
    source: Source,
    speed_m_s: Annotated[
        float | None,
        typer.Option(metavar="V", help="Also tell how far a motor carries the vehicle on."),
    ] = None,
    nuisance_per_hour: Annotated[
        float | None,
        typer.Option(
            metavar="N",
            help="Nuisance trips that you bear: surely more FAILS. Left out: 1, not judged.",
        ),
    ] = None,
    reaction_ms: Annotated[
        float | None,
        typer.Option(
            metavar="MS",
            help="Longest reaction that you bear: a longer one FAILS. Left out: the scenario's, or "
            "500.",
        ),
    ] = None,
    repeats: Annotated[
        int, typer.Option(metavar="N", min=1, max=100_000, help="Faults of each drill.")
    ] = 192,
    hours: Annotated[
        float | None,
        typer.Option(metavar="H", help="Simulated hours on which timeouts are tried."),
    ] = None,
    skip: Annotated[
        list[str] | None,
        typer.Option(metavar="KIND", help="Leave out a kind of fault, as hang; repeatable."),
    ] = None,
    seed: Seed = None,
    set_: Set = None,
    json: Json = None,
    csv: Csv = None,
    parquet: Parquet = None,
    junit: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Write JUnit XML, for a CI.")
    ] = None,
    page: PageFile = None,
    resume: Resume = None,
    cluster: Cluster = None,
    engine: EngineName = "auto",
    workers: Workers = None,
) -> int:
    """Drill every fault that the scenario's parts allow, and weigh the timeouts of its failsafes.

    Exit code: 0 every drill holds, every requirement on reaction times does, and so do
    --reaction-ms and --nuisance-per-hour where given; 1 one does not or could not be judged, 2
    refused, 130 stopped."""
    from radiosim.cli.page import command_line
    from radiosim.cli.source import Choice, scenario_of
    from radiosim.cli.targets import check_targets
    from radiosim.cli.written import write_report
    from radiosim.report.drill import drill_report
    from radiosim.report.drill_junit import drill_junit
    from radiosim.report.files import write_whole
    from radiosim.results.document import Origin
    from radiosim.study.drill import DrillOptions, check_options

    drill_options = DrillOptions(
        repeats=repeats,
        skip=tuple(dict.fromkeys(skip or ())),
        nuisance_per_hour=nuisance_per_hour,
        reaction_ms=reaction_ms,
        hours=hours,
        workers=workers,
    )
    check_options(drill_options, speed_m_s)
    files = {"--junit": junit, "--page": page, "--resume": resume}
    check_targets(json, csv, parquet, files=files, scenarios=(source,), set_=set_)
    choice = Choice(source=source, seed=seed, overrides=tuple(set_ or ()))
    scenario_text = "" if page is None else choice.scenario_text()
    scenario = scenario_of(choice)
    drilled = _drilled(scenario, drill_options, engine, resume, cluster)
    if junit is not None:
        write_whole(junit, drill_junit(drilled))
    options = {
        "--repeats": repeats,
        "--hours": hours,
        "--nuisance-per-hour": nuisance_per_hour,
        "--reaction-ms": reaction_ms,
        "--speed-m-s": speed_m_s,
        "--skip": skip or (),
        "--seed": seed,
        "--set": set_ or (),
        "--page": page,
    }
    origin = Origin(
        command=command_line("failsafe", source, options=options),
        scenario_name=source,
        scenario_text=scenario_text,
        seed=drilled.seed,
        version=drilled.version,
    )
    report = drill_report(drilled, origin, speed_m_s=speed_m_s)
    write_report(report, json=json, csv=csv, parquet=parquet, page=page)
    return DONE if drilled.ok else NOT_HELD


def _drilled(
    scenario: "Scenario",
    drill_options: "DrillOptions",
    engine: str,
    resume: Path | None,
    cluster: str | None,
) -> "Drilled":
    from contextlib import nullcontext
    from dataclasses import replace

    from radiosim.cli.printing import tell
    from radiosim.cli.progress import progress
    from radiosim.cli.source import ready_engine
    from radiosim.study.cluster import cluster_executor
    from radiosim.study.drill import drill_failsafe

    drill_options = replace(drill_options, engine=ready_engine(engine, scenario))
    with (
        nullcontext() if cluster is None else cluster_executor(cluster, tell=tell) as executor,
        progress(1, what="drills") as on_progress,
    ):
        return drill_failsafe(
            scenario, drill_options, journal=resume, executor=executor, on_progress=on_progress
        )
