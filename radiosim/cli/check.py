"""`radiosim check`: read scenes without simulating."""

import sys
from typing import Annotated

import typer

from radiosim.cli.exits import DONE, REFUSED


def check(
    scenes: Annotated[
        list[str],
        typer.Argument(metavar="SCENE.toml...", help="Scene files, or names of shipped scenes."),
    ],
) -> int:
    """Read scenes without simulating them."""
    return max((_check(scene) for scene in scenes), default=DONE)


def _check(scene: str) -> int:
    from radiosim.cli.scene_argument import scene_path
    from radiosim.errors import RadiosimError
    from radiosim.scenario import load

    try:
        scenario = load(scene_path(scene))
    except RadiosimError as error:
        sys.stdout.flush()
        print(error, file=sys.stderr)
        return REFUSED
    print(f"{scene}: ok")
    for text in scenario.warnings:
        print(f"  ! {text}")
    for text in scenario.assumed:
        print(f"  assumed: {text}")
    return DONE
