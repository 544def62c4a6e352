"""Tables of values that a scene's signals name: read once, so that a scenario stands alone."""

from collections.abc import Mapping
from pathlib import Path as FilePath

import msgspec

from radiosim.scenario.beside import text_beside
from radiosim.scenario.checks.view import Found
from radiosim.scenario.structs.scene import SceneFile
from radiosim.signals import Csv, read_points

LARGEST_TABLE_BYTES = 8_000_000


Known = Mapping[tuple[str, str], Csv]
"""Signals whose points have been read already, by transmitter and field."""


def with_tables(
    file: SceneFile, folder: FilePath | None, known: Known
) -> tuple[SceneFile, tuple[Found, ...]]:
    """The file with the points of every csv signal, and the problems of those without."""
    problems: list[Found] = []
    units = {}
    for name, unit in file.transmitter.items():
        signals = dict(unit.signals)
        for field, signal in unit.signals.items():
            if isinstance(signal, Csv):
                path = ("transmitter", name, "signals", field)
                try:
                    signals[field] = _known(signal, known.get((name, field))) or _filled(
                        signal, folder
                    )
                except _TableError as error:
                    key, text = error.args
                    problems.append(((*path, key), text))
        units[name] = msgspec.structs.replace(unit, signals=signals)
    return msgspec.structs.replace(file, transmitter=units), tuple(problems)


class _TableError(Exception):
    """What is wrong with a table: (key of the signal, text)."""


def _known(signal: Csv, before: Csv | None) -> Csv | None:
    """The signal with the points that were read before, if it names the same column."""
    if before is None or (signal.file, signal.column) != (before.file, before.column):
        return None
    return msgspec.structs.replace(signal, points=before.points)


def _filled(signal: Csv, folder: FilePath | None) -> Csv:
    if signal.points:
        raise _TableError("points", "must be left out: they are read from file")
    try:
        text = text_beside(signal.file, folder, LARGEST_TABLE_BYTES)
    except ValueError as error:
        raise _TableError("file", str(error)) from None
    try:
        points = read_points(text, signal.column)
    except ValueError as error:
        raise _TableError("file", f"{signal.file}: {error}") from None
    return msgspec.structs.replace(signal, points=points)
