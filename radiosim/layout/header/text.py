"""A header's text made ready: what it includes is supplied, or left out and listed."""

import posixpath
import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from importlib import resources

from radiosim.layout.abi import Replacement

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
        plain = _INCLUDE.sub(supplied, _plain(body))
        for pattern, replacement in rewrites:
            plain = re.sub(pattern, replacement, plain)
        files[f"{ROOT}/{path}"] = plain
    return Sources(files=files, ignored=tuple(ignored))


def _leaves(asked: str, inside: str) -> bool:
    """Does a name lead out of the header's folder?"""
    return asked.startswith(("/", "~", "\\")) or ":" in asked or inside.startswith("..")


def _plain(text: str) -> str:
    """The text without comments and continued lines; each line keeps its number."""
    spliced = "".join(_with_lines_kept(text))
    return _COMMENT_OR_TEXT.sub(_without_comment, spliced)


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
