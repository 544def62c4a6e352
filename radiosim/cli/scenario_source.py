"""What the argument SCENARIO means, and the scenario that it becomes with the options on top."""

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from radiosim.errors import OptionError, Problem, ScenarioError

if TYPE_CHECKING:
    from radiosim.scenario import Scenario

_ARCHIVE_START = b"PK\x03\x04"
"""First bytes of a saved trace, which is a zip archive."""


def is_trace(path: Path) -> bool:
    """Whether a file is a saved trace, by its content; a scenario's reader judges all else."""
    if not path.is_file():
        return False
    try:
        with path.open("rb") as stream:
            return stream.read(len(_ARCHIVE_START)) == _ARCHIVE_START
    except OSError:
        return False


def text_of(source: str) -> str:
    """The scenario as its file has it; empty for a saved trace and for what is no plain file."""
    from radiosim.scenario.shipped import scenario_path

    path = scenario_path(source)
    if not path.is_file() or is_trace(path):
        return ""
    return path.read_text(encoding="utf-8-sig", errors="replace")


def load_scenario(
    source: str,
    overrides: tuple[str, ...] = (),
    *,
    starts: int | None = None,
    start: int | None = None,
    seed: int | None = None,
    duration_s: float | None = None,
    hours: float | None = None,
) -> "Scenario":
    """A scenario with options on top; a problem that an option makes carries the option's name.

    ScenarioError, for a saved trace too; OptionError for options that exclude each other.
    """
    from radiosim.scenario import load
    from radiosim.scenario.shipped import scenario_path
    from radiosim.study.starts import lasting

    path = scenario_path(source)
    if is_trace(path):
        text = "must be a scenario file, got a saved trace"
        raise ScenarioError((Problem(file=source, path="", text=text),))
    said = {
        "starts": starts if start is None else 1,
        "seed": seed,
        "duration_s": duration_s,
    }
    options = {key: value for key, value in said.items() if value is not None}
    _check_once(overrides, options, is_start=start is not None)
    try:
        scenario = load(path, (*overrides, *(f"{key}={value}" for key, value in options.items())))
    except ScenarioError as error:
        raise ScenarioError(tuple(_named(problem, options) for problem in error.problems)) from None
    return scenario if hours is None else lasting(scenario, hours)


def _check_once(overrides: tuple[str, ...], options: dict[str, float], *, is_start: bool) -> None:
    """OptionError if a key that an option sets is set by --set too: one would hide the other."""
    for override in overrides:
        key = override.partition("=")[0].strip().strip("\"'")
        if key in options:
            is_start_alone = is_start and key == "starts"
            option = "--start" if is_start_alone else "--" + key.replace("_", "-")
            raise OptionError(f"{option}: must stand without --set {key}, got --set {override}")


def _named(problem: Problem, options: dict[str, float]) -> Problem:
    if problem.file == "--set" and problem.path in options:
        return replace(problem, file="--" + problem.path.replace("_", "-"), path="")
    return problem
