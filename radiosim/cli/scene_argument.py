"""Which file the argument SCENE means: a scene, a saved trace, or a scene that ships."""

import difflib
from pathlib import Path

from radiosim.errors import Problem, ScenarioError

_ARCHIVE_START = b"PK\x03\x04"
"""First bytes of a saved trace, which is a zip archive."""


def scene_path(argument: str) -> Path:
    """The file that is meant; a bare name without such a file is a scene that ships.

    ScenarioError if neither is there.
    """
    from radiosim.scenario.shipped import shipped_scene

    if not argument.strip():
        text = "must be a scene file or the name of a scene that ships, got nothing"
        hint = "radiosim scenes lists those that ship"
        raise ScenarioError((Problem(file="SCENE", path="", text=f"{text}; {hint}"),))
    path = Path(argument)
    try:
        if path.exists():
            return path
    except OSError as error:
        text = f"cannot be read: {error.strerror or error}"
        raise ScenarioError((Problem(file=argument, path="", text=text),)) from None
    shipped = shipped_scene(argument)
    if shipped is None:
        raise unknown_scene(argument, "must be a scene file, got a path where none is")
    return shipped.path


def unknown_scene(argument: str, text: str) -> ScenarioError:
    """What to raise for a scene that is not there, with the nearest name of one that ships."""
    from radiosim.scenario.shipped import shipped_scenes

    names = [scene.name for scene in shipped_scenes()]
    near = difflib.get_close_matches(Path(argument).stem, names, n=1)
    hint = f"did you mean {near[0]}?" if near else "radiosim scenes lists those that ship"
    return ScenarioError((Problem(file=argument, path="", text=f"{text}; {hint}"),))


def is_trace(path: Path) -> bool:
    """Whether a file is a saved trace, by its content; a scene's reader judges all else."""
    if not path.is_file():
        return False
    try:
        with path.open("rb") as stream:
            return stream.read(len(_ARCHIVE_START)) == _ARCHIVE_START
    except OSError:
        return False
