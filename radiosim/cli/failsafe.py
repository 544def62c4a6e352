"""`radiosim failsafe`: drill every fault that the scene's parts allow."""

from pathlib import Path
from typing import Annotated

import typer

from radiosim.cli.exits import DONE, NOT_HELD


def failsafe(
    *,
    scene: Annotated[
        str, typer.Argument(metavar="SCENE", help="Scene file, or name of a shipped scene.")
    ],
    tries: Annotated[
        int, typer.Option(metavar="N", min=1, max=10_000, help="Starts to try each fault in.")
    ] = 60,
    speed_m_s: Annotated[
        float | None,
        typer.Option(metavar="V", min=0.0, help="Tell how far the vehicle goes meanwhile."),
    ] = None,
    nuisance_per_hour: Annotated[
        float, typer.Option(metavar="R", min=0.0, help="Trips for nothing that are bearable.")
    ] = 1.0,
    stop_ms: Annotated[
        float, typer.Option(metavar="T", min=0.0, help="Time to a stop that is bearable.")
    ] = 1000.0,
    seed: Annotated[
        int | None, typer.Option(metavar="S", help="Where every draw comes from.")
    ] = None,
    set_: Annotated[
        list[str] | None,
        typer.Option("--set", metavar="KEY=VALUE", help="Set any key of the scene; repeatable."),
    ] = None,
    json: Annotated[
        str | None, typer.Option(metavar="FILE", help="Write it as JSON; -: only that.")
    ] = None,
    csv: Annotated[
        Path | None, typer.Option(metavar="FOLDER", help="Write it as CSV tables.")
    ] = None,
    junit: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Write it as JUnit XML.")
    ] = None,
    workers: Annotated[
        int | None, typer.Option(metavar="N", min=1, help="Processes to simulate with.")
    ] = None,
) -> int:
    """Drill the failsafe: every fault, over phases, against the bound; then the timeout's trade.

    Exit code: 1 if an output stays alive that must not, another stream is touched, or a
    requirement on worst.STREAM.stop_ms does not hold.
    """
    from radiosim.cli.progress import progress
    from radiosim.cli.source import Choice, scenario_of
    from radiosim.cli.written import check_targets, write_out
    from radiosim.report.drill.terminal import print_drill
    from radiosim.report.drill.verdict import Examined
    from radiosim.report.drill.written import drill_csv, drill_json, drill_junit
    from radiosim.report.files import check_file, write_whole
    from radiosim.study.drill.drilled import drilled
    from radiosim.study.drill.trade import room_of, trade

    check_targets(json, csv)
    if junit is not None:
        check_file(junit)
    scenario = scenario_of(Choice(scene=scene, seed=seed, overrides=tuple(set_ or ())))
    with progress(1, what="drills") as on_progress:
        rows = drilled(scenario, tries=tries, workers=workers, on_progress=on_progress)
    trades = trade(scenario, nuisance_per_hour, workers=workers)
    found = Examined(
        scenario=scenario,
        drilled=rows,
        trades=trades,
        rooms={name: room_of(it, nuisance_per_hour, stop_ms) for name, it in trades.items()},
        nuisance_per_hour=nuisance_per_hour,
        stop_ms=stop_ms,
        speed_m_s=speed_m_s,
    )
    if junit is not None:
        write_whole(junit, drill_junit(found))
    write_out(
        json,
        csv,
        lambda: drill_json(found),
        lambda: drill_csv(found),
        lambda console: print_drill(found, console),
    )
    return DONE if found.ok else NOT_HELD
