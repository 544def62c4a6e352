"""Which file the argument SCENARIO means: a scenario, a saved trace, or a scenario that ships."""

import difflib
from pathlib import Path

from radiosim.errors import Problem, ScenarioError

_ARCHIVE_START = b"PK\x03\x04"
"""First bytes of a saved trace, which is a zip archive."""


def scenario_path(argument: str) -> Path:
    """The file that is meant; a bare name without such a file is a scenario that ships.

    ScenarioError if neither is there.
    """
    from radiosim.scenario.shipped import shipped_scenario

    if not argument.strip():
        text = "must be a scenario file or the name of a scenario that ships, got nothing"
        hint = "radiosim scenarios lists those that ship"
        raise ScenarioError((Problem(file="SCENARIO", path="", text=f"{text}; {hint}"),))
    path = Path(argument)
    try:
        if path.exists():
            return path
    except OSError as error:
        text = f"cannot be read: {error.strerror or error}"
        raise ScenarioError((Problem(file=argument, path="", text=text),)) from None
    shipped = shipped_scenario(argument)
    if shipped is None:
        raise unknown_scenario(argument, "must be a scenario file, got a path where none is")
    return shipped.path


def unknown_scenario(argument: str, text: str) -> ScenarioError:
    """What to raise for a scenario that is not there, with the nearest name of one that ships."""
    from radiosim.scenario.shipped import shipped_scenarios

    names = [source.name for source in shipped_scenarios()]
    near = difflib.get_close_matches(Path(argument).stem, names, n=1)
    hint = f"did you mean {near[0]}?" if near else "radiosim scenarios lists those that ship"
    return ScenarioError((Problem(file=argument, path="", text=f"{text}; {hint}"),))


def is_trace(path: Path) -> bool:
    """Whether a file is a saved trace, by its content; a scenario's reader judges all else."""
    if not path.is_file():
        return False
    try:
        with path.open("rb") as stream:
            return stream.read(len(_ARCHIVE_START)) == _ARCHIVE_START
    except OSError:
        return False
