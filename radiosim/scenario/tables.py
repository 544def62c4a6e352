"""Tables of values that a scenario's signals name: read once, so that a scenario stands alone."""

from collections.abc import Mapping
from pathlib import Path as FilePath
from typing import TypeVar

import msgspec

from radiosim.scenario.beside import text_beside
from radiosim.scenario.checks.view import Found
from radiosim.scenario.paths import Path
from radiosim.scenario.structs.range import Place, Range
from radiosim.scenario.structs.scenario import SceneFile
from radiosim.signals import Csv, read_points

LARGEST_TABLE_BYTES = 8_000_000


Known = Mapping[tuple[str, str], Csv]
"""Signals whose points have been read already, by transmitter and field."""


def with_tables(
    file: SceneFile, folder: FilePath | None, known: Known
) -> tuple[SceneFile, tuple[Found, ...]]:
    """The file with the points of every csv signal and track, and the problems of those without."""
    problems: list[Found] = []
    units = {}
    air = file.air
    if air.range is not None:
        common = _tracked(air.range, folder, ("air", "range"), problems)
        air = msgspec.structs.replace(air, range=common)
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
        if unit.place is not None:
            place = _tracked(unit.place, folder, ("transmitter", name, "place"), problems)
            units[name] = msgspec.structs.replace(units[name], place=place)
    return msgspec.structs.replace(file, transmitter=units, air=air), tuple(problems)


P = TypeVar("P", Place, Range)


def _tracked(place: P, folder: FilePath | None, path: Path, problems: list[Found]) -> P:
    """The place with the track that its file holds."""
    if place.track_file is None:
        return place
    if place.track is not None or place.distance_m is not None:
        text = "must be left out beside distance_m or track"
        problems.append(((*path, "track_file"), text))
        return place
    try:
        text = text_beside(place.track_file, folder, LARGEST_TABLE_BYTES)
        return msgspec.structs.replace(place, track=read_points(text, "distance_m"))
    except ValueError as error:
        said = str(error)
        if not said.startswith("must") and not said.startswith("cannot"):
            said = f"{place.track_file}: {said}"
        problems.append(((*path, "track_file"), said))
        return place


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
