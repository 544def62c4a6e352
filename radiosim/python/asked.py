"""What a function of Python is asked for: a scenario, keys set in it, and options on top."""

import re
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

from radiosim.errors import OptionError, RadiosimError, ScenarioError
from radiosim.measure.by_program import of_model, once_built
from radiosim.results.document import Origin
from radiosim.scenario import Scenario, load
from radiosim.scenario.changed import changed
from radiosim.scenario.override import REPLACE_FILE
from radiosim.scenario.shipped import scenario_path
from radiosim.version import VERSION

ScenarioLike = Scenario | str | Path
"""A scenario, its file, or the name of a shipped one."""
Keys = Iterable[str] | Mapping[str, Any]
"""Keys to set: `KEY=VALUE` as on the command line, or a mapping from key path to value."""

_OPTION = re.compile(r"--([a-z][a-z-]*)")


def scenario_of(
    source: ScenarioLike, keys: Keys = (), *, runs_program: bool = False, **given: Any
) -> Scenario:
    """The scenario with keys set, then with those that were given and are not None.

    `runs_program`: the receiver's own program, if it names one, is built; else it is the model's.
    Raises ScenarioError for what makes no sound scenario, OptionError for a key that both set.
    """
    lines = () if isinstance(keys, Mapping) else tuple(keys)
    values = dict(keys) if isinstance(keys, Mapping) else {}
    said = {key: value for key, value in given.items() if value is not None}
    for key in (*values, *(line.partition("=")[0].strip() for line in lines)):
        if key in said:
            raise OptionError(f"--{key}: must stand without --set {key}")
    if not isinstance(source, Scenario):
        scenario = load(source, lines)
    else:
        scenario = changed(source, lines) if lines else source
    scenario = scenario.replace(**values, **said) if values or said else scenario
    return once_built(scenario) if runs_program else of_model(scenario)


def origin_of(source: ScenarioLike, seed: int | None) -> Origin:
    """Where results come from: the scenario's file as it was written, if there is one."""
    if isinstance(source, Scenario):
        return Origin(command="", scenario_name=source.name, seed=seed, version=VERSION)
    path = scenario_path(source) if isinstance(source, str) else source
    text = path.read_text(encoding="utf-8-sig", errors="replace") if path.is_file() else ""
    return Origin(
        command="", scenario_name=str(source), scenario_text=text, seed=seed, version=VERSION
    )


@contextmanager
def in_python_words() -> Iterator[None]:
    """Let refusals name arguments of functions where they would name options of commands."""
    try:
        yield
    except ScenarioError as error:
        raise ScenarioError(
            tuple(
                replace(problem, file=_place(problem.file), text=_argument(problem.text))
                for problem in error.problems
            )
        ) from None
    except RadiosimError as error:
        if not all(isinstance(said, str) for said in error.args):
            raise
        raise type(error)(*map(_argument, error.args)) from None


def _place(file: str) -> str:
    """What stands before a problem; nothing before one of the call itself."""
    return "" if file == REPLACE_FILE else _argument(file)


def _argument(text: str) -> str:
    return _OPTION.sub(lambda found: found[1].replace("-", "_"), text)
