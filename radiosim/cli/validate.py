"""`radiosim validate`: read scenarios without simulating."""

import sys
from collections import Counter
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from radiosim.cli.exits import DONE, REFUSED
from radiosim.cli.options import Json, Set
from radiosim.cli.printing import print_lines, tell
from radiosim.report.checked_scenario import CheckedScenario

if TYPE_CHECKING:
    from radiosim.scenario import Scenario


def validate(
    scenarios: Annotated[
        list[str],
        typer.Argument(
            metavar="SCENARIO.toml...", help="Scenario files, or names of shipped scenarios."
        ),
    ],
    set_: Set = None,
    json: Json = None,
) -> int:
    """Read scenarios, with the changes of --set, without simulating them."""
    from radiosim.cli.targets import STANDARD_OUTPUT, check_targets
    from radiosim.report.files import write_whole
    from radiosim.results.data import json_of

    check_targets(json, scenarios=scenarios, set_=set_)
    names = Counter(Path(source).name for source in dict.fromkeys(scenarios))
    overrides = tuple(set_ or ())
    found = [
        _checked(source, overrides, is_ambiguous=names[Path(source).name] > 1)
        for source in scenarios
    ]
    if json == STANDARD_OUTPUT:
        sys.stdout.write(json_of(found))
    else:
        if json is not None:
            write_whole(Path(json), json_of(found))
        for one in found:
            _print(one)
    return DONE if all(one.ok for one in found) else REFUSED


def _print(found: CheckedScenario) -> None:
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


def _checked(source: str, overrides: tuple[str, ...], *, is_ambiguous: bool) -> CheckedScenario:
    from radiosim.engine.plan import make_plan
    from radiosim.errors import RadiosimError
    from radiosim.measure.summarise import cannot_work
    from radiosim.scenario.traffic import retries

    try:
        scenario = _loaded(source, overrides, is_ambiguous)
    except RadiosimError as error:
        return CheckedScenario(source=source, ok=False, problems=tuple(str(error).splitlines()))
    plan = make_plan(scenario, 0)
    reasons = {name: cannot_work(scenario, plan, name) for name in scenario.transmitter}
    return CheckedScenario(
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
    from radiosim.cli.scenario_argument import is_trace
    from radiosim.errors import Problem, ScenarioError
    from radiosim.scenario import load
    from radiosim.scenario.shipped import scenario_path

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
