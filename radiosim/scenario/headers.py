"""C headers that a scenario's layouts name: read once, so that a scenario stands alone."""

from collections.abc import Mapping
from pathlib import Path as FilePath

import msgspec

from radiosim.errors import LayoutError
from radiosim.layout import LayoutDescription
from radiosim.layout.abi import ABIS
from radiosim.layout.header import HeaderStruct, described, read_struct
from radiosim.scenario.beside import path_beside, text_beside
from radiosim.scenario.checks.view import Found
from radiosim.scenario.problems import shown
from radiosim.scenario.structs.scenario import SceneFile

LARGEST_HEADER_BYTES = 1_000_000
FILLED_IN = ("fields", "size_bytes")
"""Keys of a layout that its header fills in."""


def with_headers(
    file: SceneFile, folder: FilePath | None, known: Mapping[str, LayoutDescription]
) -> tuple[SceneFile, tuple[Found, ...]]:
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


def header_struct(path: FilePath, struct: str, abi: str) -> HeaderStruct:
    """A struct of a header file; what it includes is looked for in its folder alone.

    Raises LayoutError, and ValueError for a file that cannot be read.
    """
    folder = path.parent
    text = text_beside(str(path.absolute()), None, LARGEST_HEADER_BYTES)

    def neighbour(name: str) -> str | None:
        try:
            return text_beside(name, folder, LARGEST_HEADER_BYTES)
        except ValueError:
            return None

    return read_struct(path.name, text, struct, abi, neighbour)


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
    text_beside(given.header, folder, LARGEST_HEADER_BYTES)  # says what is in the way
    read = header_struct(path_beside(given.header, folder), given.struct, given.abi)
    filled = described(read, given.convert)
    return msgspec.structs.replace(filled, header=given.header)


def _placed(where: str, text: str) -> Found:
    """A problem of a header as one of the scenario: a conversion's key, or the header's line."""
    if where.startswith("convert."):
        return ("convert", where.removeprefix("convert.")), text
    return ("header",), f"{where}: {text}"
