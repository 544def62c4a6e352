"""`radiosim scenes`: the scenes that come with the package."""

import sys
from pathlib import Path
from typing import Annotated

import typer

from radiosim.cli.exits import DONE
from radiosim.cli.printing import tell
from radiosim.cli.source import OptionError


def scenes(
    *,
    name: Annotated[
        str | None, typer.Argument(metavar="[NAME]", help="Print this scene.", show_default=False)
    ] = None,
    to: Annotated[
        Path | None,
        typer.Option("--to", metavar="FILE", help="Copy it to a new file or into a folder."),
    ] = None,
) -> int:
    """List, print or copy the shipped scenes."""
    if name is None:
        if to is not None:
            raise OptionError("--to: must stand beside the NAME of a scene, got none")
        _list()
    else:
        _hand_out(name, to)
    return DONE


def _list() -> None:
    import textwrap

    from radiosim.scenario.shipped import shipped_scenes

    for scene in shipped_scenes():
        print(f"{scene.name}: {scene.title}" if scene.title else scene.name)
        if scene.about:
            print(textwrap.fill(scene.about, 80, initial_indent="  ", subsequent_indent="  "))


def _hand_out(name: str, to: Path | None) -> None:
    from radiosim.cli.scene_argument import unknown_scene
    from radiosim.report.files import write_new
    from radiosim.scenario.shipped import shipped_scene

    scene = shipped_scene(name)
    if scene is None:
        raise unknown_scene(name or "NAME", "must be the name of a scene that ships")
    if to is None:
        sys.stdout.write(scene.path.read_text(encoding="utf-8"))
        return
    target = to / scene.path.name if to.is_dir() else to
    write_new(target, scene.path.read_bytes())
    tell(f"wrote {target}")
