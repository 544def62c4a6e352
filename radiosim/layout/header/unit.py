"""The parser: libclang, told the target, shown nothing but what was prepared."""

from dataclasses import dataclass
from typing import Any

from radiosim.errors import LayoutError
from radiosim.layout.abi import Abi
from radiosim.layout.header.text import ROOT, Sources

INSTALL = "pip install 'libclang>=18,<19'"
_LANGUAGES = (("c++", "gnu++17"), ("c", "gnu17"))
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


def parsed(name: str, sources: Sources, abi: Abi, language: int) -> Unit:
    """A header as C++ (language 0) or C (1).

    Raises LayoutError, with what to install, if libclang is not there.
    """
    unit = _parsed(name, sources, abi, language, "")
    unknown = [
        word
        for word in FIRMWARE_TYPES
        if any(f"unknown type name '{word}'" in text for _, _, text in unit.errors)
    ]
    if not unknown:
        return unit
    prelude = "".join(f"typedef {FIRMWARE_TYPES[word]} {word};\n" for word in unknown)
    again = _parsed(name, sources, abi, language, prelude)
    assumed = tuple(f"{word} taken as {FIRMWARE_TYPES[word]}" for word in unknown)
    return Unit(root=again.root, errors=again.errors, assumed=assumed)


def _parsed(name: str, sources: Sources, abi: Abi, language: int, prelude: str) -> Unit:
    cindex = _cindex()
    words, standard = _LANGUAGES[language]
    main, first = f"{ROOT}/{name}", f"{ROOT}/prelude"
    arguments = [*abi.arguments, "-x", words, f"-std={standard}", "-nostdinc", "-ferror-limit=0"]
    files = [*sources.files.items(), (first, f"#include <stdbool.h>\n{prelude}")]
    if prelude:
        arguments += ["-I", "/stubs", "-include", first]
    try:
        tree = cindex.Index.create().parse(
            main, args=arguments, unsaved_files=files, options=_KEEP_GOING
        )
    except cindex.TranslationUnitLoadError:
        raise LayoutError(((name, f"cannot be parsed for the target {abi.name}"),)) from None
    errors = tuple(
        (found.location.file.name.removeprefix(f"{ROOT}/"), found.location.line, found.spelling)
        for found in tree.diagnostics
        if found.severity >= _ERROR and found.location.file is not None
    )
    return Unit(root=tree.cursor, errors=errors, assumed=())


def _cindex() -> Any:
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
