"""A struct in a C or C++ header, as a compiler lays it out; read by a process of its own."""

import json
import os
import subprocess
import sys
from collections.abc import Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from radiosim.c_header.abi import ABIS, Abi
from radiosim.c_header.c_field import CField
from radiosim.c_header.sources import Neighbour, Sources, prepared
from radiosim.errors import LayoutError

LONGEST_S = 10
LONGEST_WAIT_S = 60
MOST_MEMORY_MB = 800
"""What a header may take: processor time, time on the clock (other programs may be busy too), and
memory. 4,000 numbers on five targets take 4 s and 80 MB."""

_RUN = (
    "import sys; sys.path[:] = sys.argv[3:]; "
    "from radiosim.c_header.parser_process import main; main(*map(int, sys.argv[1:3]))"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class HeaderStruct:
    """A struct of a header, laid out."""

    header: str
    """Name of the header file."""
    struct: str
    """Name of the struct."""
    abi: Abi
    """Whose layout it is."""
    size_bytes: int
    """What `sizeof` says on the target."""
    fields: tuple[CField, ...]
    """Numbers of the struct, in order."""
    ignored: tuple[str, ...]
    """Headers that it includes and that were left out."""
    assumed: tuple[str, ...]
    """Types that were taken to mean what firmware means by them."""
    comment: str
    """What the comments before the struct, and those in it that belong to no field, say."""
    of_file: str
    """What the comments say that stand at the top of a file, or at a line that is no
    part of another struct or a function."""
    values: Mapping[str, str]
    """Macros, constants, enumerators and functions: what stands behind each name."""


def read_struct(
    header: str, text: str, struct: str, abi: str, neighbour: Neighbour = lambda _: None
) -> HeaderStruct:
    """The struct of that name in a header's text, as one target has it.

    Raises LayoutError, for a target that is not there too; else as `read_structs`.
    """
    if abi not in ABIS:
        text = f"must be one of {', '.join(ABIS)}, got '{abi}'"
        raise LayoutError(((f"{header}:{struct}@{abi}", text),))
    found = read_structs(header, text, struct, (abi,), neighbour)[abi]
    if isinstance(found, LayoutError):
        raise found
    return found


def read_structs(
    header: str,
    text: str,
    struct: str,
    abis: Iterable[str] = ABIS,
    neighbour: Neighbour = lambda _: None,
) -> dict[str, HeaderStruct | LayoutError]:
    """The struct of that name in a header's text, or what is wrong with it, for each target.

    `neighbour` gives the text of a file beside the header. What can be wrong is every member that
    cannot be sent, by line, and a struct that is not there. Raises LayoutError for a header that
    takes too long or too much memory, or a parser that is not installed.
    """
    try:
        sources = prepared(header, text, neighbour)
    except ValueError as error:
        raise LayoutError(((header, str(error)),)) from None
    main = header.rpartition("/")[2]
    result = _results(main, sources, struct, tuple(abis))
    return {
        abi: LayoutError(tuple((where, text) for where, text in found["problems"]))
        if "problems" in found
        else _of_result(main, struct, ABIS[abi], found, sources.ignored)
        for abi, found in result.items()
    }


def _of_result(
    header: str, struct: str, abi: Abi, found: Mapping[str, Any], ignored: tuple[str, ...]
) -> HeaderStruct:
    fields = tuple(
        CField(**field | {"values": field["values"] and tuple(field["values"])})
        for field in found["fields"]
    )
    rest = {**found, "fields": fields, "assumed": tuple(found["assumed"]), "ignored": ignored}
    return HeaderStruct(header=header, struct=struct, abi=abi, **rest)


def _results(main: str, sources: Sources, struct: str, targets: tuple[str, ...]) -> dict[str, Any]:
    """What the parser's process says of each target; LayoutError if it is too much for it."""
    request = {
        "main": main,
        "files": sources.files,
        "ignored": sources.ignored,
        "comments": sources.comments,
        "struct": struct,
        "targets": targets,
    }
    home = str(Path(__file__).parents[2])
    limits = (str(LONGEST_S), str(MOST_MEMORY_MB))
    command = [sys.executable, "-I", "-S", "-c", _RUN, *limits, home, *filter(None, sys.path)]
    asked, asking = os.pipe()
    # The pipe stays open while the result is waited for: that it closes ends the process.
    with (
        open(asking, "wb", buffering=0) as pipe,  # noqa: PTH123 - a pipe has no path
        open(asked, "rb", buffering=0) as end,  # noqa: PTH123
        subprocess.Popen(
            command, stdin=end, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL
        ) as process,
    ):
        end.close()
        try:
            with suppress(BrokenPipeError):
                pipe.write(json.dumps(request).encode() + b"\n")
            said, _ = process.communicate(timeout=LONGEST_WAIT_S)
        except subprocess.TimeoutExpired:
            said = b""
        finally:
            process.kill()
    try:
        result = json.loads(said)
    except ValueError:  # nothing, or cut off: it was ended
        text = (
            f"must be readable in {LONGEST_S} s and {MOST_MEMORY_MB:,} MB, got a header that is "
            "not: take out macros that multiply"
        )
        raise LayoutError(((main, text),)) from None
    if isinstance(result, str):
        raise RuntimeError(f"the process that parses headers failed:\n{result}")
    return dict(result)
