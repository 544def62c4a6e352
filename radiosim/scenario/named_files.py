"""Files that a scenario names, C headers and tables of values: read once, kept inside."""

from collections.abc import Iterable, Mapping
from pathlib import Path as FilePath
from typing import TYPE_CHECKING, TypeVar

import msgspec

from radiosim.c_header.abi import ABIS
from radiosim.errors import LayoutError
from radiosim.layout import LayoutDescription
from radiosim.layout.header_layout import described
from radiosim.scenario.checks.view import Found
from radiosim.scenario.key_paths import Path
from radiosim.scenario.problems import shown
from radiosim.scenario.structs.range_tables import Place, Range
from radiosim.scenario.structs.scenario_file import ScenarioFile
from radiosim.signals import Csv, read_points

if TYPE_CHECKING:
    from radiosim.c_header.struct_reader import HeaderStruct


def resolve_path(name: str, folder: FilePath | None) -> FilePath:
    """Where a file is that a scenario in this folder names; ValueError if it may not be read."""
    given = FilePath(name)
    if given.is_absolute():
        return given
    if folder is None:
        raise ValueError(f"must be an absolute path here, got {shown(name)}")
    try:
        path = (folder / given).resolve()
    except RuntimeError:
        raise ValueError(f"must be a file, got {shown(name)}, a link to itself") from None
    except (OSError, ValueError) as error:
        raise ValueError(f"cannot be read: {error}, got {shown(name)}") from None
    if not path.is_relative_to(folder.resolve()):
        raise ValueError(f"must be inside the scenario's folder, got {shown(name)}")
    return path


def text_of_named(name: str, folder: FilePath | None, largest_bytes: int) -> str:
    """Text of a file that a scenario in this folder names; ValueError with what is in the way."""
    try:
        return _read(resolve_path(name, folder), name, largest_bytes)
    except UnicodeDecodeError:
        raise ValueError(f"must be UTF-8 text, got {shown(name)}") from None
    except OSError as error:
        reason = error.strerror or str(error)
        raise ValueError(f"cannot be read: {reason}, got {shown(name)}") from None


def _read(path: FilePath, name: str, largest_bytes: int) -> str:
    if not path.is_file():
        raise ValueError(f"must be a file, got {shown(name)}, which is none")
    size = path.stat().st_size
    if size > largest_bytes:
        raise ValueError(f"must be at most {largest_bytes:,} bytes, got {size:,} in {shown(name)}")
    # One byte more shows a file that grew, or one that does not tell its size.
    with path.open("rb") as stream:
        raw = stream.read(largest_bytes + 1)
    if len(raw) > largest_bytes:
        raise ValueError(f"must be at most {largest_bytes:,} bytes, got more in {shown(name)}")
    return raw.decode("utf-8-sig")


LARGEST_HEADER_BYTES = 1_000_000
FILLED_IN = ("fields", "size_bytes")
"""Keys of a layout that its header fills in."""


def with_headers(
    file: ScenarioFile, folder: FilePath | None, known: Mapping[str, LayoutDescription]
) -> tuple[ScenarioFile, tuple[Found, ...]]:
    """The file with the fields of every layout that names a header, and what is in the way.

    `known`: layouts whose headers were read before.
    """
    layouts, problems = headers_read(file.layout, folder, known)
    return msgspec.structs.replace(file, layout=layouts), problems


def headers_read(
    layouts: Mapping[str, LayoutDescription],
    folder: FilePath | None,
    known: Mapping[str, LayoutDescription],
) -> tuple[dict[str, LayoutDescription], tuple[Found, ...]]:
    """Layouts with the fields of those that name a header, and what is in the way."""
    problems: list[Found] = []
    read = dict(layouts)
    for name, given in layouts.items():
        if not given.header:
            continue
        found = _not_said(given)
        if not found:
            try:
                read[name] = _known(given, known.get(name)) or _filled(given, folder)
            except ValueError as error:
                found = [(("header",), str(error))]
            except LayoutError as error:
                found = [_placed(where, text) for where, text in error.problems]
        problems += [(("layout", name, *path), text) for path, text in found]
    return read, tuple(problems)


def header_structs(
    path: FilePath, struct: str, abis: Iterable[str] = ABIS
) -> "dict[str, HeaderStruct | LayoutError]":
    """A struct of a header file by target; what it includes is looked for in its folder alone.

    Raises LayoutError, and ValueError for a file that cannot be read.
    """
    from radiosim.c_header.struct_reader import read_structs  # noqa: PLC0415 - few name a header

    folder = path.parent
    text = text_of_named(str(path.absolute()), None, LARGEST_HEADER_BYTES)

    def neighbour(name: str) -> str | None:
        try:
            return text_of_named(name, folder, LARGEST_HEADER_BYTES)
        except ValueError:
            return None

    return read_structs(path.name, text, struct, abis, neighbour)


def header_struct(path: FilePath, struct: str, abi: str) -> "HeaderStruct":
    """A struct of a header file as one target has it; errors as of `header_structs`."""
    found = header_structs(path, struct, (abi,))[abi]
    if isinstance(found, LayoutError):
        raise found
    return found


def _not_said(given: LayoutDescription) -> list[Found]:
    """Keys that must stand beside `header`, and those that must not."""
    found: list[Found] = []
    if not given.struct:
        found.append((("struct",), "must be given: the name of the struct in the header"))
    if given.abi not in ABIS:
        got = f"got {shown(given.abi)}" if given.abi else "got none"
        found.append((("abi",), f"must be one of {', '.join(ABIS)}, {got}"))
    found += [
        ((key,), "must be left out: it is read from the header")
        for key in FILLED_IN
        if getattr(given, key)
    ]
    if given.byte_order != "little":
        found.append((("byte_order",), "must be little, as every abi has it, got 'big'"))
    return found


def _known(given: LayoutDescription, before: LayoutDescription | None) -> LayoutDescription | None:
    """The layout that was read before, if it is the same struct, with the same conversions."""
    same = ("header", "struct", "abi", "convert")
    if before is None or any(getattr(given, key) != getattr(before, key) for key in same):
        return None
    return before


def _filled(given: LayoutDescription, folder: FilePath | None) -> LayoutDescription:
    text_of_named(given.header, folder, LARGEST_HEADER_BYTES)  # says what is in the way
    read = header_struct(resolve_path(given.header, folder), given.struct, given.abi)
    filled = described(read, given.convert)
    return msgspec.structs.replace(filled, header=given.header)


def _placed(where: str, text: str) -> Found:
    """A problem of a header as one of the scenario: a conversion's key, or the header's line."""
    if where.startswith("convert."):
        return ("convert", where.removeprefix("convert.")), text
    return ("header",), f"{where}: {text}"


def with_program_files(
    file: ScenarioFile, folder: FilePath | None
) -> tuple[ScenarioFile, tuple[Found, ...]]:
    """The file with places of the receiver's sources, and what is in the way."""
    program = file.receiver.program
    if program is None:
        return file, ()
    problems: list[Found] = []
    places = []
    for number, source in enumerate(program.sources):
        try:
            path = resolve_path(source, folder)
            if not path.is_file():
                raise ValueError(f"must be a file, got {shown(source)}, which is none")
            places.append(str(path))
        except ValueError as error:
            problems.append((("receiver", "program", "sources", number), str(error)))
    if problems:
        return file, tuple(problems)
    placed = msgspec.structs.replace(program, sources=tuple(places))
    receiver = msgspec.structs.replace(file.receiver, program=placed)
    return msgspec.structs.replace(file, receiver=receiver), ()


LARGEST_TABLE_BYTES = 8_000_000


Known = Mapping[tuple[str, str], Csv]
"""Signals whose points have been read already, by transmitter and field."""


def with_tables(
    file: ScenarioFile, folder: FilePath | None, known: Known
) -> tuple[ScenarioFile, tuple[Found, ...]]:
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
                    signals[field] = _known_table(
                        signal, known.get((name, field))
                    ) or _filled_tables(signal, folder)
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
        text = text_of_named(place.track_file, folder, LARGEST_TABLE_BYTES)
        return msgspec.structs.replace(place, track=read_points(text, "distance_m"))
    except ValueError as error:
        said = str(error)
        if not said.startswith("must") and not said.startswith("cannot"):
            said = f"{place.track_file}: {said}"
        problems.append(((*path, "track_file"), said))
        return place


class _TableError(Exception):
    """What is wrong with a table: (key of the signal, text)."""


def _known_table(signal: Csv, before: Csv | None) -> Csv | None:
    """The signal with the points that were read before, if it names the same column."""
    if before is None or (signal.file, signal.column) != (before.file, before.column):
        return None
    return msgspec.structs.replace(signal, points=before.points)


def _filled_tables(signal: Csv, folder: FilePath | None) -> Csv:
    if signal.points:
        raise _TableError("points", "must be left out: they are read from file")
    try:
        text = text_of_named(signal.file, folder, LARGEST_TABLE_BYTES)
    except ValueError as error:
        raise _TableError("file", str(error)) from None
    try:
        points = read_points(text, signal.column)
    except ValueError as error:
        raise _TableError("file", f"{signal.file}: {error}") from None
    return msgspec.structs.replace(signal, points=points)
