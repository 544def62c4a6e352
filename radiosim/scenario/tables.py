"""Tables of values that a scene's signals name: read once, so that a scenario stands alone."""

from pathlib import Path as FilePath

import msgspec

from radiosim.scenario.checks.view import Found
from radiosim.scenario.problems import shown
from radiosim.scenario.structs.scene import SceneFile
from radiosim.signals import Csv, read_points

LARGEST_TABLE_BYTES = 8_000_000


def with_tables(file: SceneFile, folder: FilePath | None) -> tuple[SceneFile, tuple[Found, ...]]:
    """The file with the points of every csv signal, and the problems of those without."""
    problems: list[Found] = []
    units = {}
    for name, unit in file.transmitter.items():
        signals = dict(unit.signals)
        for field, signal in unit.signals.items():
            if isinstance(signal, Csv):
                path = ("transmitter", name, "signals", field)
                try:
                    signals[field] = _filled(signal, folder)
                except _TableError as error:
                    key, text = error.args
                    problems.append(((*path, key), text))
        units[name] = msgspec.structs.replace(unit, signals=signals)
    return msgspec.structs.replace(file, transmitter=units), tuple(problems)


class _TableError(Exception):
    """What is wrong with a table: (key of the signal, text)."""


def _filled(signal: Csv, folder: FilePath | None) -> Csv:
    if signal.points:
        raise _TableError("points", "must be left out: they are read from file")
    try:
        points = read_points(_text_of(signal.file, folder), signal.column)
    except ValueError as error:
        raise _TableError("file", f"{signal.file}: {error}") from None
    return msgspec.structs.replace(signal, points=points)


def _text_of(name: str, folder: FilePath | None) -> str:
    """Text of a table inside the scene's folder, or at an absolute path that the scene gives."""
    try:
        given = FilePath(name)
        if given.is_absolute():
            path = given
        elif folder is None:
            raise _TableError("file", f"must be an absolute path here, got {shown(name)}")
        else:
            path = (folder / given).resolve()
            if not path.is_relative_to(folder.resolve()):
                raise _TableError("file", f"must be inside the scene's folder, got {shown(name)}")
        return _read(path, name)
    except (OSError, ValueError) as error:
        if isinstance(error, UnicodeDecodeError):
            raise _TableError("file", f"must be UTF-8 text, got {shown(name)}") from None
        reason = getattr(error, "strerror", None) or str(error)
        raise _TableError("file", f"cannot be read: {reason}, got {shown(name)}") from None


def _read(path: FilePath, name: str) -> str:
    if not path.is_file():
        raise _TableError("file", f"must be a file, got {shown(name)}, which is none")
    size = path.stat().st_size
    if size > LARGEST_TABLE_BYTES:
        raise _TableError(
            "file", f"must be at most {LARGEST_TABLE_BYTES:,} bytes, got {size:,} in {shown(name)}"
        )
    return path.read_text(encoding="utf-8")
