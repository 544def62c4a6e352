"""`radiosim scenarios`: the scenarios that come with the package."""

import sys
from pathlib import Path
from typing import Annotated

import typer

from radiosim.cli.exits import DONE
from radiosim.cli.printing import tell
from radiosim.errors import OptionError


def scenarios(
    *,
    name: Annotated[
        str | None,
        typer.Argument(metavar="[NAME]", help="Print this scenario.", show_default=False),
    ] = None,
    to: Annotated[
        Path | None,
        typer.Option("--to", metavar="FILE", help="Copy it to a new file or into a folder."),
    ] = None,
) -> int:
    """List, print or copy the shipped scenarios."""
    if name is None:
        if to is not None:
            raise OptionError("--to: must stand beside the NAME of a scenario, got none")
        _list()
    else:
        _hand_out(name, to)
    return DONE


def _list() -> None:
    import textwrap

    from radiosim.scenario.shipped import shipped_scenarios

    for source in shipped_scenarios():
        print(f"{source.name}: {source.title}" if source.title else source.name)
        if source.about:
            print(textwrap.fill(source.about, 80, initial_indent="  ", subsequent_indent="  "))


def _hand_out(name: str, to: Path | None) -> None:
    from radiosim.report.files import write_new
    from radiosim.scenario.shipped import shipped_scenario, unknown_scenario

    source = shipped_scenario(name)
    if source is None:
        raise unknown_scenario(name or "NAME", "must be the name of a scenario that ships")
    if to is None:
        sys.stdout.write(source.path.read_text(encoding="utf-8"))
        return
    target = to / source.path.name if to.is_dir() else to
    write_new(target, source.path.read_bytes())
    tell(f"wrote {target}")
