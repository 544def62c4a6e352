"""`radiosim check`: read scenes without simulating."""

import sys
from collections import Counter
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from radiosim.cli.exits import DONE, REFUSED
from radiosim.cli.options import Json
from radiosim.cli.printing import print_lines, tell

if TYPE_CHECKING:
    from radiosim.scenario import Scenario


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """What reading one scene has shown; the names are those of `--json`."""

    scene: str
    ok: bool
    problems: tuple[str, ...] = ()
    cannot_work: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    retries: tuple[str, ...] = ()
    assumed: tuple[str, ...] = ()


def check(
    scenes: Annotated[
        list[str],
        typer.Argument(metavar="SCENE.toml...", help="Scene files, or names of shipped scenes."),
    ],
    json: Json = None,
) -> int:
    """Read scenes without simulating them."""
    from radiosim.cli.targets import STANDARD_OUTPUT, check_targets
    from radiosim.report.files import write_whole
    from radiosim.report.layouts.as_json import text_of

    check_targets(json, scenes=scenes)
    names = Counter(Path(scene).name for scene in dict.fromkeys(scenes))
    found = [_checked(scene, is_ambiguous=names[Path(scene).name] > 1) for scene in scenes]
    if json == STANDARD_OUTPUT:
        sys.stdout.write(text_of(found))
    else:
        if json is not None:
            write_whole(Path(json), text_of(found))
        for one in found:
            _print(one)
    return DONE if all(one.ok for one in found) else REFUSED


def _print(found: Checked) -> None:
    if not found.ok:
        sys.stdout.flush()
        tell("\n".join(found.problems))
        return
    lines = [
        f"{found.scene}: ok",
        *(f"  ! {text}" for text in (*found.cannot_work, *found.warnings)),
        *(f"  retries: {text}" for text in found.retries),
        *(f"  assumed: {text}" for text in found.assumed),
    ]
    print_lines(lines, sys.stdout)


def _checked(scene: str, *, is_ambiguous: bool) -> Checked:
    from radiosim.engine.plan import make_plan
    from radiosim.errors import RadiosimError
    from radiosim.measure.summarise import cannot_work
    from radiosim.scenario.retries import retries

    try:
        scenario = _loaded(scene, is_ambiguous)
    except RadiosimError as error:
        return Checked(scene=scene, ok=False, problems=tuple(str(error).splitlines()))
    plan = make_plan(scenario, 0)
    reasons = {name: cannot_work(scenario, plan, name) for name in scenario.transmitter}
    return Checked(
        scene=scene,
        ok=True,
        cannot_work=tuple(
            f"{name}: THIS FAILSAFE CANNOT WORK: {why}" for name, why in reasons.items() if why
        ),
        warnings=tuple(scenario.warnings),
        retries=tuple(f"{name}: {text}" for name, text in retries(scenario)),
        assumed=tuple(scenario.assumed),
    )


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
