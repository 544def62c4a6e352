"""`radiosim layout`: what is inside a frame, and what a change of it does."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from radiosim.cli.commands import Commands
from radiosim.cli.exits import DONE, NOT_HELD, guarded
from radiosim.cli.options import Csv, Json, PageFile, Parquet, Set
from radiosim.cli.printing import tell
from radiosim.cli.targets import check_targets

if TYPE_CHECKING:
    from radiosim.results.document import Origin
    from radiosim.scenario.named_layout import NamedLayout

WHAT = "A layout: SCENARIO.toml:NAME, or a struct as HEADER:STRUCT@ABI."

OneLayout = Annotated[str, typer.Argument(metavar="LAYOUT", help=WHAT)]


def show(
    layout: OneLayout,
    *,
    svg: Annotated[
        Path | None, typer.Option("--svg", metavar="FILE", help="Write the map as a picture.")
    ] = None,
    json: Json = None,
    csv: Csv = None,
    parquet: Parquet = None,
    page: PageFile = None,
) -> int:
    """Show where each field lies, and what a servo sees of it."""
    from radiosim.cli.written import write_report
    from radiosim.report.figures.byte_map import svg_map
    from radiosim.report.files import write_whole
    from radiosim.report.layouts import layout_report

    files = {"--svg": svg, "--page": page}
    check_targets(json, csv, parquet, files=files, layouts=(layout,))
    named = _named(layout)
    if svg is not None:
        write_whole(svg, svg_map(named.layout))
    report = layout_report(named, _origin("layout show", layout, options={"--page": page}))
    write_report(report, json=json, csv=csv, parquet=parquet, page=page)
    return DONE


def check(
    layouts: Annotated[list[str], typer.Argument(metavar="LAYOUT...", help=WHAT)],
    *,
    json: Json = None,
    csv: Csv = None,
    parquet: Parquet = None,
    page: PageFile = None,
) -> int:
    """List what can go wrong with a layout on the way from one firmware to another.

    Exit code: 1 if something is sure to, else 0.
    """
    from radiosim.cli.written import write_report
    from radiosim.report.layout_check import checks_data, checks_report

    check_targets(json, csv, parquet, files={"--page": page}, layouts=layouts)
    named = [_named(layout, any_target=True) for layout in layouts]
    data = checks_data(named)
    origin = _origin("layout check", *layouts, options={"--page": page})
    write_report(checks_report(named, data, origin), json=json, csv=csv, parquet=parquet, page=page)
    return DONE if data.is_ok else NOT_HELD


def compare(
    old: Annotated[str, typer.Argument(metavar="OLD", help=WHAT)],
    new: Annotated[str, typer.Argument(metavar="NEW", help="The layout after the change.")],
    *,
    payload_length: Annotated[
        str,
        typer.Option(
            metavar="own|fixed|N",
            help="Which length the exit code judges: own; fixed, each radio to its frame's; or N "
            "bytes for both.",
        ),
    ] = "own",
    versions: Annotated[
        str | None,
        typer.Option(metavar="OLD,NEW", help="Numbers in the fields called version."),
    ] = None,
    scenario: Annotated[
        str | None,
        typer.Option(
            metavar="SCENARIO", help="Simulate this link with both layouts, and tell what changes."
        ),
    ] = None,
    stream: Annotated[
        list[str] | None,
        typer.Option(metavar="NAME", help="Whose frames change; left out: all that have OLD."),
    ] = None,
    set_: Set = None,
    json: Json = None,
    csv: Csv = None,
    parquet: Parquet = None,
    page: PageFile = None,
) -> int:
    """Tell what an old receiver reads of a new transmitter's frames, and the other way round.

    Exit code: 0 if each end reads all that the other sends, else 1.
    """
    from radiosim.cli.layout_options import length_of, refuse_without_scenario, versions_of
    from radiosim.cli.progress import progress
    from radiosim.cli.source import Choice, scenario_of
    from radiosim.cli.written import write_report
    from radiosim.layout.compare import compare as compared_layouts
    from radiosim.report.layout_compare import compare_report
    from radiosim.scenario.named_layout import with_units_of
    from radiosim.study.layout_change import link_change

    refuse_without_scenario(scenario, stream=stream, set=set_)
    check_targets(
        json,
        csv,
        parquet,
        files={"--page": page},
        scenarios=() if scenario is None else (scenario,),
        layouts=(old, new),
        set_=set_,
    )
    length, padded_to_bytes = length_of(payload_length)
    numbers = versions_of(versions)
    asked = _named(old), _named(new)
    before, after = with_units_of(*asked), with_units_of(*reversed(asked))
    compared = compared_layouts(
        before.layout, after.layout, padded_to_bytes=padded_to_bytes, versions=numbers
    )
    link = None
    if scenario is not None:
        asked_of = scenario_of(Choice(source=scenario, overrides=tuple(set_ or ())))
        with progress(asked_of.starts) as on_progress:
            link = link_change(asked_of, before, after, stream or (), on_progress=on_progress)
    said = {
        "--payload-length": payload_length,
        "--versions": versions,
        "--scenario": scenario,
        "--stream": stream or (),
        "--set": set_ or (),
        "--page": page,
    }
    report = compare_report(
        compared,
        (before, after),
        length,
        _origin(
            "layout compare",
            old,
            new,
            options=said,
            source=scenario,
            seed=None if link is None else link.seed,
        ),
        link=None if link is None else link.change,
        not_simulated=link.refusal if link else "",
    )
    write_report(report, json=json, csv=csv, parquet=parquet, page=page)
    return DONE if compared.is_compatible(length) else NOT_HELD


def emit(
    layout: OneLayout,
    *,
    to: Annotated[str, typer.Option("--to", metavar="c|json|vectors", help="What to write.")],
    out: Annotated[
        Path | None, typer.Option("--out", metavar="FILE", help="Write it here, not to the screen.")
    ] = None,
) -> int:
    """Write a layout for the firmware: a C header, JSON, or frames to test with."""
    from radiosim.cli.layout_options import emitted
    from radiosim.report.files import write_whole

    check_targets(files={"--out": out}, layouts=(layout,))
    text = emitted(_named(layout), to)
    if out is None:
        sys.stdout.write(text)
    else:
        write_whole(out, text)
        tell(f"wrote {out}")
    return DONE


layout_app = typer.Typer(
    cls=Commands,
    rich_markup_mode=None,
    add_completion=False,
    no_args_is_help=True,
    help="Show, check and compare what is inside a frame.",
)
for _command in (show, check, compare, emit):
    layout_app.command()(guarded(_command))


def _named(argument: str, *, any_target: bool = False) -> "NamedLayout":
    from radiosim.scenario.named_layout import named_layout
    from radiosim.scenario.shipped import scenario_path

    return named_layout(argument, scenario_path, any_target=any_target)


def _origin(
    command: str,
    *layouts: str,
    options: dict[str, Any],
    source: str | None = None,
    seed: int | None = None,
) -> "Origin":
    """Where a report of layouts comes from; the scenario stands on a page alone."""
    from radiosim.cli.page import command_line
    from radiosim.cli.source import Choice
    from radiosim.results.document import Origin
    from radiosim.version import VERSION

    is_shown = source is not None and options["--page"] is not None
    return Origin(
        command=command_line(command, *layouts, options=options),
        scenario_name=source or "",
        scenario_text=Choice(source=source or "").scenario_text() if is_shown else "",
        seed=seed,
        version=VERSION,
    )
