"""The scenarios that come with the package."""

import tomllib
from dataclasses import dataclass
from importlib import resources
from pathlib import Path


@dataclass(frozen=True, slots=True, kw_only=True)
class ShippedScene:
    """A scenario that comes with the package."""

    name: str
    title: str
    about: str
    """First comment line of the file."""
    path: Path


def shipped_scenarios() -> tuple[ShippedScene, ...]:
    """Every scenario that comes with the package, by name."""
    return tuple(_described(path) for path in sorted(_folder().glob("*.toml")))


def shipped_scenario(name: str) -> ShippedScene | None:
    """The scenario of this name, or None."""
    path = _folder() / f"{name}.toml"
    is_plain = path.name == f"{name}.toml"
    return _described(path) if is_plain and path.is_file() else None


def _folder() -> Path:
    """Inside the package where it is installed; beside it in a source tree."""
    package = Path(str(resources.files("radiosim")))
    installed = package / "shipped_scenarios"
    is_source_tree = not installed.is_dir() and (package.parent / "pyproject.toml").is_file()
    return package.parent / "scenarios" if is_source_tree else installed


def _described(path: Path) -> ShippedScene:
    text = path.read_text(encoding="utf-8")
    comments = (line.lstrip("# ").rstrip() for line in text.splitlines() if line.startswith("#"))
    return ShippedScene(
        name=path.stem,
        title=str(tomllib.loads(text).get("title", "")),
        about=next(comments, ""),
        path=path,
    )
