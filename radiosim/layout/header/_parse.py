"""A header's text made ready, then parsed by libclang for one target."""

import posixpath
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any

from radiosim.errors import LayoutError
from radiosim.layout.header._comments import comments_by_line
from radiosim.layout.header.abi import Abi, Replacement

ROOT = "/header"
"""Folder of the header in the parser's own file system, which holds nothing from the disk."""
STUBS = "/stubs"

MOST_FILES = 64
"""Headers that one header can draw in."""

_SUPPLIED = {
    "stdint.h": "stdint.h",
    "inttypes.h": "stdint.h",
    "cstdint": "stdint.h",
    "cinttypes": "stdint.h",
    "stdbool.h": "stdbool.h",
    "cstdbool": "stdbool.h",
    "stddef.h": "stddef.h",
    "cstddef": "stddef.h",
}
_SPLICE = re.compile(r"\\[ \t]*\r?\n")
_COMMENT_OR_TEXT = re.compile(
    r"""//[^\n]*|/\*.*?(?:\*/|\Z)|"(?:\\.|[^"\\\n])*"|'(?:\\.|[^'\\\n])*'""", re.DOTALL
)
_INCLUDE = re.compile(
    r"^[ \t]*(?:\#|%:|\?\?=)[ \t]*(?:include|include_next|import|embed)\b(?P<what>[^\n]*)$",
    re.MULTILINE,
)
_NAME = re.compile(r"""\s*(?:"(?P<quoted>[^"\n]+)"|<(?P<angled>[^>\n]+)>)\s*\Z""")

Neighbour = Callable[[str], str | None]
"""Text of a file beside the header by its path from there; None if there is none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sources:
    """Everything that the parser may see."""

    files: dict[str, str]
    """Text by path."""
    ignored: tuple[str, ...]
    """Names of the headers that were left out, in the order met."""
    comments: Mapping[str, Mapping[int, str]]
    """What comments say, by file and by the line of code that they belong to."""


def prepared(
    name: str, text: str, neighbour: Neighbour, rewrites: tuple[tuple[str, Replacement], ...] = ()
) -> Sources:
    """The sources of a header, with what it includes from beside it; ValueError for too many.

    `rewrites` are patterns to be replaced in all of them.
    """
    files = {f"{STUBS}/{stub}": body for stub, body in _stubs().items()}
    ignored: dict[str, None] = {}
    waiting = [(posixpath.basename(name), text)]
    seen = {posixpath.basename(name)}
    comments: dict[str, Mapping[int, str]] = {}
    while waiting:
        path, body = waiting.pop(0)

        def supplied(match: re.Match[str], path: str = path) -> str:
            wanted = _NAME.match(match["what"])
            if wanted is None:
                ignored[match["what"].strip() or "an include without a name"] = None
                return ""
            asked = wanted["quoted"] or wanted["angled"]
            if asked in _SUPPLIED:
                return f'#include "{STUBS}/{_SUPPLIED[asked]}"'
            inside = posixpath.normpath(posixpath.join(posixpath.dirname(path), asked))
            if inside in seen:
                return f'#include "{ROOT}/{inside}"'
            found = None if _leaves(asked, inside) else neighbour(inside)
            if found is None:
                ignored[asked] = None
                return ""
            seen.add(inside)
            waiting.append((inside, found))
            return f'#include "{ROOT}/{inside}"'

        if len(seen) > MOST_FILES:
            raise ValueError(f"must include at most {MOST_FILES} files from beside it, got more")
        plain, comments[path] = _plain(body)
        plain = _INCLUDE.sub(supplied, plain)
        for pattern, replacement in rewrites:
            plain = re.sub(pattern, replacement, plain)
        files[f"{ROOT}/{path}"] = plain
    return Sources(files=files, ignored=tuple(ignored), comments=comments)


def _leaves(asked: str, inside: str) -> bool:
    """Does a name lead out of the header's folder?"""
    return asked.startswith(("/", "~", "\\")) or ":" in asked or inside.startswith("..")


def _plain(text: str) -> tuple[str, Mapping[int, str]]:
    """The text without comments and continued lines, line by line, and what comments say."""
    spliced = "".join(_with_lines_kept(text))
    plain = _COMMENT_OR_TEXT.sub(_without_comment, spliced)
    comments = [found for found in _COMMENT_OR_TEXT.finditer(spliced) if found[0].startswith("/")]
    return plain, comments_by_line(spliced, comments, plain)


def _with_lines_kept(text: str) -> list[str]:
    """Continued lines made one, the lines that this saves put after them."""
    pieces = []
    saved = 0
    for line in text.replace("\r\n", "\n").splitlines(keepends=True):
        if _SPLICE.search(line):
            pieces.append(_SPLICE.sub("", line))
            saved += 1
            continue
        pieces.append(line + "\n" * saved)
        saved = 0
    return pieces


def _without_comment(match: re.Match[str]) -> str:
    found = match[0]
    return " " + "\n" * found.count("\n") if found.startswith("/") else found


@cache
def _stubs() -> dict[str, str]:
    """The headers that are supplied, by name."""
    folder = resources.files("radiosim.layout.header") / "stubs"
    return {
        name: (folder / name).read_text(encoding="ascii")
        for name in sorted(set(_SUPPLIED.values()))
    }


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
