"""A header parsed by libclang for one target."""

import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from radiosim.c_header.abi import Abi
from radiosim.errors import LayoutError

ROOT = "/header"
"""Folder of the header in the parser's own file system, which holds nothing from the disk."""
STUBS = "/stubs"
"""Folder of the headers that are supplied."""

INSTALL = "pip install 'libclang>=18,<19'"
_LANGUAGES = (("c++", "gnu++17"), ("c", "gnu17"))
NO_DISK = Path(__file__).with_name("no_disk.yaml")
"""A file system without a file, which the parser has in place of the disk's."""
_KEEP_GOING = 0x200
_ERROR = 3

FIRMWARE_TYPES = {"byte": "unsigned char", "boolean": "bool", "word": "unsigned int"}
"""Types that firmware uses without a header of their own."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Unit:
    """A header as the parser sees it."""

    root: Any
    """The cursor of the whole."""
    errors: tuple[tuple[str, int, str], ...]
    """File, line and text of whatever the parser did not take, in its own words."""
    assumed: tuple[str, ...]
    """Types that the header does not define and that were taken to be what firmware means."""


def parsed(name: str, files: dict[str, str], abi: Abi, language: int) -> Unit:
    """A header among these files, by path, as C++ (language 0) or C (1).

    Raises LayoutError, with what to install, if libclang is not there.
    """
    rewritten = {path: _rewritten(path, text, abi) for path, text in files.items()}
    unit = _parsed(name, rewritten, abi, language, "")
    unknown = [
        word
        for word in FIRMWARE_TYPES
        if any(f"unknown type name '{word}'" in text for _, _, text in unit.errors)
    ]
    if not unknown:
        return unit
    prelude = "".join(f"typedef {FIRMWARE_TYPES[word]} {word};\n" for word in unknown)
    again = _parsed(name, rewritten, abi, language, prelude)
    assumed = tuple(f"{word} taken as {FIRMWARE_TYPES[word]}" for word in unknown)
    return Unit(root=again.root, errors=again.errors, assumed=assumed)


def _rewritten(path: str, text: str, abi: Abi) -> str:
    """A file's text as the target's own compiler understands it."""
    if path.startswith(f"{ROOT}/"):
        for pattern, replacement in abi.rewrites:
            text = re.sub(pattern, replacement, text)
    return text


def _parsed(name: str, files: dict[str, str], abi: Abi, language: int, prelude: str) -> Unit:
    cindex = load_parser()
    words, standard = _LANGUAGES[language]
    main, first = f"{ROOT}/{name}", f"{STUBS}/prelude"
    known = {**files, first: f"#include <stdbool.h>\n{prelude}"}
    arguments = [*abi.arguments, "-x", words, f"-std={standard}", "-nostdinc", "-ferror-limit=0"]
    arguments += ["-fno-trigraphs", "-ivfsoverlay", str(NO_DISK)]
    if prelude:
        arguments += ["-I", STUBS, "-include", first]
    try:
        tree = cindex.Index.create().parse(
            main, args=arguments, unsaved_files=list(known.items()), options=_KEEP_GOING
        )
    except cindex.TranslationUnitLoadError:
        text = (
            f"must be a header that can be parsed for {abi.name}, got one that is too much for it"
        )
        raise LayoutError(((name, text),)) from None
    _refuse_others(name, {entry.include.name for entry in tree.get_includes()} - set(known))
    errors = tuple(
        (found.location.file.name.removeprefix(f"{ROOT}/"), found.location.line, found.spelling)
        for found in tree.diagnostics
        if found.severity >= _ERROR and found.location.file is not None
    )
    return Unit(root=tree.cursor, errors=errors, assumed=())


def _refuse_others(name: str, others: set[str]) -> None:
    """LayoutError for files that were read and are not the header's own."""
    if others:
        text = f"must include files from beside it alone, got {', '.join(sorted(others))}"
        raise LayoutError(((name, text),))


def load_parser() -> Any:
    """The bindings of libclang; LayoutError if they, or the library behind them, are missing."""
    try:
        from clang import cindex  # noqa: PLC0415 - an extra, and only headers need it

        cindex.Index.create()
    except (ImportError, OSError, AttributeError) as error:
        raise _missing(error) from None
    except Exception as error:
        if type(error).__name__ == "LibclangError":
            raise _missing(error) from None
        raise
    return cindex


def _missing(error: Exception) -> LayoutError:
    reason = str(error).splitlines()[0] if str(error) else type(error).__name__
    return LayoutError(
        (("libclang", f"must be there to read a C header, got {reason}; {INSTALL}"),)
    )
