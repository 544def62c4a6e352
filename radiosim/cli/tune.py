"""`radiosim tune`: choose packet rates and retries before writing firmware."""

from contextlib import nullcontext
from dataclasses import replace
from pathlib import Path
from typing import Annotated

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
    from radiosim.cli.page import command_line, write_page
    from radiosim.cli.printing import tell
    from radiosim.cli.progress import progress
    from radiosim.cli.source import Choice, OptionError, scenario_of
    from radiosim.cli.targets import check_targets
    from radiosim.cli.written import write_out
    from radiosim.report.files import write_whole
    from radiosim.report.tune.settings_h import settings_header
    from radiosim.report.tune.terminal import print_tuned
    from radiosim.report.tune.written import tuned_csv, tuned_json
    from radiosim.scenario.changed import changed
    from radiosim.study.cluster import cluster_executor
    from radiosim.study.range import shortened
    from radiosim.study.sequential import narrow_of
    from radiosim.study.tune.tuned import confirmed, lines_of, tuned
    from radiosim.study.tune.varied import chosen

    files = {"--page": page, "--emit": emit, "--resume": resume}
    check_targets(json, csv, parquet, files=files, scenarios=(source,), set_=set_)
    choice = Choice(
        source=source,
        starts=starts,
        seed=seed,
        duration_s=duration_s,
        overrides=tuple(set_ or ()),
    )
    scenario_text = "" if page is None else choice.scenario_text()
    scenario = scenario_of(choice)
    # What is recommended is tried over all of it, however short the points were asked for.
    whole = scenario_of(replace(choice, starts=None, duration_s=None))
    asked = None if narrow is None else narrow_of(narrow, whole)
    # Faults have their instants, and requirements may be about them.
    whole_s = whole.duration_s if whole.fault else None
    # Where as many are added as it takes, the scenario's own number is the most.
    most = whole.starts if asked is not None and starts is None else starts
    scenario = shortened(scenario, most, duration_s or whole_s)
    settings, tries = chosen(scenario, tuple(vary or ()), points)
    with nullcontext() if cluster is None else cluster_executor(cluster, tell=tell) as executor:
        with progress(len(tries) + 1, what="points") as on_progress:
            found = tuned(
                scenario,
                settings,
                tries,
                narrow=asked,
                journal=resume,
                executor=executor,
                workers=workers,
                on_progress=on_progress,
            )
        found = confirmed(found, whole, executor=executor, workers=workers)
    if emit is not None:
        if found.best is None:
            raise OptionError(f"--emit: nothing to write: {found.why}")
        lines = lines_of(settings, found.best.values)
        write_whole(emit, settings_header(changed(whole, lines), found.cautions))
    if page is not None:
        from radiosim.report.page.of_tune import page_of_tune

        said = {
            "--vary": vary or (),
            "--points": points,
            "--starts": starts,
            "--duration-s": duration_s,
            "--narrow": narrow,
            "--seed": seed,
            "--set": set_ or (),
            "--page": page,
        }
        command = command_line("tune", source, options=said)
        made = page_of_tune(
            found, whole, source=source, scenario_text=scenario_text, command=command
        )
        write_page(page, made)
    write_out(
        json,
        csv,
        lambda: tuned_json(found),
        lambda: tuned_csv(found),
        lambda console: print_tuned(found, console),
        parquet=parquet,
    )
    return DONE if found.ok else NOT_HELD
