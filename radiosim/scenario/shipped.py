"""The scenarios that come with the package, and which file a name means."""

import difflib
import tomllib
from pathlib import Path

import msgspec

from radiosim.errors import Problem, ScenarioError


class ShippedScenario(msgspec.Struct, frozen=True, kw_only=True):
    """A scenario that comes with the package."""

    name: str
    title: str
    about: str
    """First comment line of the file."""
    path: Path


def shipped_scenarios() -> tuple[ShippedScenario, ...]:
    """Every scenario that comes with the package, by name."""
    return tuple(_described(path) for path in sorted(_folder().glob("*.toml")))


def shipped_scenario(name: str) -> ShippedScenario | None:
    """The scenario of this name, or None."""
    path = _path_of(name)
    return None if path is None else _described(path)


def _path_of(name: str) -> Path | None:
    path = _folder() / f"{name}.toml"
    is_plain = path.name == f"{name}.toml"
    return path if is_plain and path.is_file() else None


def scenario_path(argument: str) -> Path:
    """The file that is meant; a bare name without such a file is a scenario that ships.

    ScenarioError if neither is there.
    """
    if not argument.strip():
        text = "must be a scenario file or the name of a scenario that ships, got nothing"
        hint = "radiosim scenarios lists those that ship"
        raise ScenarioError((Problem(file="SCENARIO", path="", text=f"{text}; {hint}"),))
    path = Path(argument)
    try:
        path.stat()
    except (FileNotFoundError, NotADirectoryError):
        shipped = _path_of(argument)
    except (OSError, ValueError) as error:
        text = f"cannot be read: {getattr(error, 'strerror', None) or error}"
        raise ScenarioError((Problem(file=argument, path="", text=text),)) from None
    else:
        return path
    if shipped is None:
        raise unknown_scenario(argument, "must be a scenario file, got a path where none is")
    return shipped


def unknown_scenario(argument: str, text: str) -> ScenarioError:
    """What to raise for a scenario that is not there, with the nearest name of one that ships."""
    names = [source.name for source in shipped_scenarios()]
    near = difflib.get_close_matches(Path(argument).stem, names, n=1)
    hint = f"did you mean {near[0]}?" if near else "radiosim scenarios lists those that ship"
    return ScenarioError((Problem(file=argument, path="", text=f"{text}; {hint}"),))


def _folder() -> Path:
    """Inside the package where it is installed; beside it in a source tree."""
    package = Path(__file__).parents[1]
    installed = package / "shipped_scenarios"
    is_source_tree = not installed.is_dir() and (package.parent / "pyproject.toml").is_file()
    return package.parent / "scenarios" if is_source_tree else installed


def _described(path: Path) -> ShippedScenario:
    text = path.read_text(encoding="utf-8")
    comments = (line.lstrip("# ").rstrip() for line in text.splitlines() if line.startswith("#"))
    return ShippedScenario(
        name=path.stem,
        title=str(tomllib.loads(text).get("title", "")),
        about=next(comments, ""),
        path=path,
    )
