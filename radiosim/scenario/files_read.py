"""Files that a scenario or a header is read from, so that nothing is written over them."""

from collections.abc import Iterable, Iterator
from contextlib import suppress
from pathlib import Path as FilePath
from typing import Any

from radiosim.errors import ScenarioError
from radiosim.layout.header.text import prepared
from radiosim.scenario.beside import path_beside, text_beside
from radiosim.scenario.headers import LARGEST_HEADER_BYTES
from radiosim.scenario.read import document_of

NAMING = ("header", "file", "track_file")
"""Keys whose value is the name of a file."""


def files_of_scenario(path: FilePath, overrides: Iterable[str] = ()) -> tuple[FilePath, ...]:
    """A scenario file, and all that is read because it or an override names it.

    As far as it can be read: what is in the way is for its reader to say. A pipe is read once, by
    who simulates it.
    """
    if not path.is_file():
        return (path,)
    try:
        document = document_of(path, overrides)
    except ScenarioError:
        return (path,)
    files = [path]
    for key, name in _named(document):
        try:
            beside = path_beside(name, path.parent)
        except ValueError:
            continue
        files += files_of_header(beside) if key == "header" else (beside,)
    return tuple(files)


def files_of_header(path: FilePath) -> tuple[FilePath, ...]:
    """A header, and what it includes from its own folder, as far as it can be read."""
    files = [path]

    def neighbour(name: str) -> str | None:
        try:
            text = text_beside(name, path.parent, LARGEST_HEADER_BYTES)
        except ValueError:
            return None
        files.append(path_beside(name, path.parent))
        return text

    with suppress(ValueError):
        text = text_beside(str(path.absolute()), None, LARGEST_HEADER_BYTES)
        prepared(path.name, text, neighbour)
    return tuple(files)


def _named(value: Any) -> Iterator[tuple[str, str]]:
    """Each (key, name) in a document that stands for a file."""
    if isinstance(value, list):
        for item in value:
            yield from _named(item)
    elif isinstance(value, dict):
        for key, item in value.items():
            if key in NAMING and isinstance(item, str):
                yield key, item
            else:
                yield from _named(item)
