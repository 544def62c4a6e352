"""`radiosim validate`: read scenarios without simulating."""

import sys
from collections import Counter
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from radiosim.cli.exits import DONE, REFUSED
from radiosim.cli.options import JsonFile, Mark, Overridden
from radiosim.cli.terminal import print_lines, tell

if TYPE_CHECKING:
    from radiosim.scenario import Scenario


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """What reading one scenario has shown; the names are those of `--json`."""

    source: str
    ok: bool
    problems: tuple[str, ...] = ()
    cannot_work: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    retries: tuple[str, ...] = ()
    assumed: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class ValidateOptions(Overridden, JsonFile):
    """Options of `radiosim validate`."""

    COMMAND = "validate"

    scenarios: Annotated[
        tuple[str, ...],
        typer.Argument(
            metavar="SCENARIO.toml...", help="Scenario files, or names of shipped scenarios."
        ),
        Mark.SCENARIO,
    ]


def validate(options: ValidateOptions) -> int:
    """Read scenarios, with the changes of --set, without simulating them."""
    from radiosim.cli.targets import write_json
    from radiosim.results.data import json_of

    names = Counter(Path(source).name for source in dict.fromkeys(options.scenarios))
    found = [
        _checked(source, options.set_, is_ambiguous=names[Path(source).name] > 1)
        for source in options.scenarios
    ]
    if not write_json(options, lambda: json_of(found)):
        for one in found:
            _print(one)
    return DONE if all(one.ok for one in found) else REFUSED


def _print(found: Checked) -> None:
    if not found.ok:
        sys.stdout.flush()
        tell("\n".join(found.problems))
        return
    lines = [
        f"{found.source}: ok",
        *(f"  ! {text}" for text in (*found.cannot_work, *found.warnings)),
        *(f"  retries: {text}" for text in found.retries),
        *(f"  assumed: {text}" for text in found.assumed),
    ]
    print_lines(lines, sys.stdout)


def _checked(source: str, overrides: tuple[str, ...], *, is_ambiguous: bool) -> Checked:
    from radiosim.engine.plan import make_plan
    from radiosim.errors import RadiosimError
    from radiosim.measure.summarise import cannot_work
    from radiosim.scenario.traffic import retries

    try:
        scenario = _loaded(source, overrides, is_ambiguous)
    except RadiosimError as error:
        return Checked(source=source, ok=False, problems=tuple(str(error).splitlines()))
    plan = make_plan(scenario, 0)
    reasons = {name: cannot_work(scenario, plan, name) for name in scenario.transmitter}
    return Checked(
        source=source,
        ok=True,
        cannot_work=tuple(
            f"{name}: THIS FAILSAFE CANNOT WORK: {why}" for name, why in reasons.items() if why
        ),
        warnings=tuple(scenario.warnings),
        retries=tuple(f"{name}: {text}" for name, text in retries(scenario)),
        assumed=tuple(scenario.assumed),
    )


def _loaded(source: str, overrides: tuple[str, ...], is_ambiguous: bool) -> "Scenario":
    """The scenario; its problems carry the whole path where two files share a name."""
    from radiosim.cli.scenario_source import is_trace, scenario_path
    from radiosim.errors import Problem, ScenarioError
    from radiosim.scenario import load

    path = scenario_path(source)
    if is_trace(path):
        text = "must be a scenario file, got a saved trace; radiosim run shows its figures"
        raise ScenarioError((Problem(file=source, path="", text=text),))
    try:
        return load(path, overrides)
    except ScenarioError as error:
        if not is_ambiguous:
            raise
        problems = (
            replace(p, file=source if p.file == path.name else p.file) for p in error.problems
        )
        raise ScenarioError(tuple(problems)) from None
