"""`radiosim run`: simulate a scenario and tell what came of it."""

from pathlib import Path
from typing import Annotated

import typer

from radiosim.cli.exits import DONE, NOT_HELD
from radiosim.cli.options import Csv, EngineName, Json, PageFile, Parquet, Seed, Set, Workers


def run(
    *,
    scenario: Annotated[
        str,
        typer.Argument(
            metavar="SCENARIO", help="Scenario file, name of a shipped scenario, or a saved trace."
        ),
    ],
    starts: Annotated[
        int | None, typer.Option(metavar="N", help="Simulate N starts; 1: one start.")
    ] = None,
    hours: Annotated[
        float | None,
        typer.Option(metavar="H", help="Simulate as many starts as make H hours in all."),
    ] = None,
    start: Annotated[
        int | None, typer.Option(metavar="K", min=0, help="Simulate start K alone.")
    ] = None,
    seed: Seed = None,
    duration_s: Annotated[
        float | None, typer.Option(metavar="D", help="Seconds that each start lasts.")
    ] = None,
    set_: Set = None,
    json: Json = None,
    csv: Csv = None,
    parquet: Parquet = None,
    page: PageFile = None,
    trace: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Save the whole trace of one start.")
    ] = None,
    waveform: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Write the worst start as a value change dump (VCD)."),
    ] = None,
    waveform_start: Annotated[
        int | None, typer.Option(metavar="K", min=0, help="Write start K instead of the worst.")
    ] = None,
    rare: Annotated[
        bool,
        typer.Option("--rare", help="Estimate failsafe trips that are too rare to be counted."),
    ] = False,
    more: Annotated[bool, typer.Option("--more", help="Print all figures.")] = False,
    engine: EngineName = "auto",
    workers: Workers = None,
) -> int:
    """Simulate a scenario; print the worst first.

    Exit code: 0 every requirement held, 1 one did not or could not be judged, 2 refused, 130
    stopped.
    """
    from radiosim.cli.outcome import Targets
    from radiosim.cli.printing import has_letters
    from radiosim.cli.source import Choice, Shows, simulated
    from radiosim.cli.targets import STANDARD_OUTPUT

    targets = Targets(
        json=json,
        csv=csv,
        parquet=parquet,
        page=page,
        trace=trace,
        waveform=waveform,
        more=more,
    )
    choice = Choice(
        source=scenario,
        starts=starts,
        hours=hours,
        start=start,
        seed=seed,
        duration_s=duration_s,
        overrides=tuple(set_ or ()),
        engine=engine,
        workers=workers,
        rare=rare,
    )
    targets.check(choice)
    scenario_text = "" if page is None else choice.scenario_text()
    has_waveform = waveform is not None
    shows = Shows(
        is_asked=has_waveform or page is not None,
        is_page=page is not None,
        is_waveform=has_waveform,
        is_glance=json != STANDARD_OUTPUT and has_letters(),
        start=waveform_start,
    )
    outcome = simulated(choice, keeps_trace=trace is not None, shows=shows)
    targets.deliver(outcome, choice, scenario_text)
    return DONE if outcome.summary.ok else NOT_HELD
