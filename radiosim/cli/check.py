"""`radiosim check`: read scenes without simulating."""

import sys
from collections import Counter
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from radiosim.cli.exits import DONE, REFUSED

if TYPE_CHECKING:
    from radiosim.scenario import Scenario


def check(
    scenes: Annotated[
        list[str],
        typer.Argument(metavar="SCENE.toml...", help="Scene files, or names of shipped scenes."),
    ],
) -> int:
    """Read scenes without simulating them."""
    names = Counter(Path(scene).name for scene in dict.fromkeys(scenes))
    return max(
        (_check(scene, is_ambiguous=names[Path(scene).name] > 1) for scene in scenes), default=DONE
    )


def _check(scene: str, *, is_ambiguous: bool) -> int:
    from radiosim.engine.plan import make_plan
    from radiosim.errors import RadiosimError
    from radiosim.measure.summarise import cannot_work
    from radiosim.scenario.retries import retries

    try:
        scenario = _loaded(scene, is_ambiguous)
    except RadiosimError as error:
        sys.stdout.flush()
        print(error, file=sys.stderr)
        return REFUSED
    print(f"{scene}: ok")
    plan = make_plan(scenario, 0)
    for name in scenario.transmitter:
        if reason := cannot_work(scenario, plan, name):
            print(f"  ! {name}: THIS FAILSAFE CANNOT WORK: {reason}")
    for text in scenario.warnings:
        print(f"  ! {text}")
    for name, text in retries(scenario):
        print(f"  retries: {name}: {text}")
    for text in scenario.assumed:
        print(f"  assumed: {text}")
    return DONE


def _loaded(scene: str, is_ambiguous: bool) -> "Scenario":
    """The scenario; its problems carry the whole path where two files share a name."""
    from radiosim.cli.scene_argument import is_trace, scene_path
    from radiosim.errors import Problem, ScenarioError
    from radiosim.scenario import load

    path = scene_path(scene)
    if is_trace(path):
        text = "must be a scene file, got a saved trace; radiosim run shows its figures"
        raise ScenarioError((Problem(file=scene, path="", text=text),))
    try:
        return load(path)
    except ScenarioError as error:
        if not is_ambiguous:
            raise
        problems = (
            replace(p, file=scene if p.file == path.name else p.file) for p in error.problems
        )
        raise ScenarioError(tuple(problems)) from None
