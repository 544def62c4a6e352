"""`radiosim tune`: choose packet rates and retries before writing firmware."""

from contextlib import nullcontext
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from radiosim.cli.exits import DONE, NOT_HELD
from radiosim.cli.options import (
    Cluster,
    Csv,
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
    from radiosim.study.tune.tune_results import Tuned


def tune(
    *,
    source: Source,
    vary: Annotated[
        list[str] | None,
        typer.Option(
            metavar="KEY=FIRST:LAST:STEP",
            help="Vary this key, or KEY=A,B,C; left out: all periods and retries. Repeatable.",
        ),
    ] = None,
    points: Annotated[
        int | None,
        typer.Option(
            metavar="N",
            min=2,
            max=100_000,
            help="Try N combinations, evenly spread; left out: 300, or all of --vary.",
        ),
    ] = None,
    starts: Annotated[
        int | None,
        typer.Option(
            metavar="N", min=1, help="Starts of each point; left out: the scenario's, at most 6."
        ),
    ] = None,
    duration_s: Annotated[
        float | None,
        typer.Option(
            metavar="D",
            help="Seconds of each start; left out: the scenario's, at most 60 where it has no "
            "faults.",
        ),
    ] = None,
    narrow: Annotated[
        str | None,
        typer.Option(
            metavar="FIGURE=WIDTH",
            help="Add starts to each point until FIGURE is known to WIDTH either way.",
        ),
    ] = None,
    seed: Seed = None,
    set_: Set = None,
    resume: Resume = None,
    cluster: Cluster = None,
    emit: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Write the recommended settings as a C header."),
    ] = None,
    json: Json = None,
    csv: Csv = None,
    parquet: Parquet = None,
    page: PageFile = None,
    workers: Workers = None,
) -> int:
    """Try settings, recommend some, and say why; then try those over the whole scenario.

    Exit code: 1 if no point holds every requirement, there too.
    """
    from radiosim.cli.page import command_line
    from radiosim.cli.printing import tell
    from radiosim.cli.progress import progress
    from radiosim.cli.source import Choice, scenario_of
    from radiosim.cli.targets import check_targets
    from radiosim.cli.written import write_report
    from radiosim.report.tune import tune_report
    from radiosim.results.document import Origin
    from radiosim.study.cluster import cluster_executor
    from radiosim.study.tune.tuned import tune_scenario

    files = {"--page": page, "--emit": emit, "--resume": resume}
    check_targets(json, csv, parquet, files=files, scenarios=(source,), set_=set_)
    choice = Choice(source=source, seed=seed, overrides=tuple(set_ or ()))
    scenario_text = "" if page is None else choice.scenario_text()
    # What is recommended is tried over all of it, however short the points are asked for.
    whole = scenario_of(choice)
    scenario_of(replace(choice, starts=starts, duration_s=duration_s))  # refuses what cannot be
    with (
        nullcontext() if cluster is None else cluster_executor(cluster, tell=tell) as executor,
        progress(1, what="points") as on_progress,
    ):
        found = tune_scenario(
            whole,
            vary=tuple(vary or ()),
            points=points,
            starts=starts,
            duration_s=duration_s,
            narrow=narrow,
            journal=resume,
            executor=executor,
            workers=workers,
            on_progress=on_progress,
        )
    if emit is not None:
        _emit(emit, found, whole)
    options = {
        "--vary": vary or (),
        "--points": points,
        "--starts": starts,
        "--duration-s": duration_s,
        "--narrow": narrow,
        "--seed": seed,
        "--set": set_ or (),
        "--page": page,
    }
    origin = Origin(
        command=command_line("tune", source, options=options),
        scenario_name=source,
        scenario_text=scenario_text,
        seed=found.seed,
        version=found.version,
    )
    write_report(tune_report(found, origin), json=json, csv=csv, parquet=parquet, page=page)
    return DONE if found.ok else NOT_HELD


def _emit(path: Path, found: "Tuned", whole: "Scenario") -> None:
    """Write the recommended settings as a C header; OptionError if there are none."""
    from radiosim.errors import OptionError
    from radiosim.report.files import write_whole
    from radiosim.report.settings_header import settings_header
    from radiosim.scenario.changed import changed
    from radiosim.study.tune.tune_results import NOTHING_JUDGED
    from radiosim.study.tune.tuned import lines_of

    if found.recommended is None:
        raise OptionError(f"--emit: nothing to write: {NOTHING_JUDGED}")
    lines = lines_of(found.settings, found.recommended.values)
    write_whole(path, settings_header(changed(whole, lines), found.cautions))
