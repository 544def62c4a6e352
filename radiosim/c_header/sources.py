"""A header's text made ready for the parser: what it includes, and nothing that could reach out."""

import posixpath
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources

from radiosim.c_header._comments import comments_by_line
from radiosim.c_header._parse import ROOT, STUBS

MOST_FILES = 64
LARGEST_BYTES = 4_000_000
"""Headers that one header can draw in, and the length of them together."""

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
_SPACES = {ord("\r"): "\n"} | dict.fromkeys(
    map(
        ord,
        "\0\t\v\f\x1c\x1d\x1e\x1f\x85\xa0\u1680\u180e\u2000\u2001\u2002\u2003\u2004\u2005\u2006\u2007"
        "\u2008\u2009\u200a\u200b\u2028\u2029\u202f\u205f\u3000\ufeff",
    ),
    " ",
)
"""Whatever a compiler may take for a space, as the one that patterns look for."""
_SPLICE = re.compile(r"\\ *\n")
_COMMENT_OR_TEXT = re.compile(
    r"""//[^\n]*|/\*.*?(?:\*/|\Z)|"(?:\\.|[^"\\\n])*"|'(?:\\.|[^'\\\n])*'""", re.DOTALL
)
_INCLUDE = re.compile(
    r"^ *(?:\#|%:|\?\?=) *(?:include|include_next|__include_macros|import|embed)\b"
    r"(?P<what>[^\n]*)$",
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


def prepared(name: str, text: str, neighbour: Neighbour) -> Sources:
    """The sources of a header, with what it includes from beside it; ValueError for too much."""
    files = {f"{STUBS}/{stub}": body for stub, body in _stubs().items()}
    ignored: dict[str, None] = {}
    waiting = [(posixpath.basename(name), text)]
    seen = {posixpath.basename(name)}
    comments: dict[str, Mapping[int, str]] = {}
    length = 0
    while waiting:
        path, body = waiting.pop(0)
        length += len(body)
        if length > LARGEST_BYTES:
            text = f"must have at most {LARGEST_BYTES:,} bytes with all that it includes, got more"
            raise ValueError(text)

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
            if len(seen) == MOST_FILES:
                raise ValueError(
                    f"must include at most {MOST_FILES - 1} files from beside it, got more"
                )
            seen.add(inside)
            waiting.append((inside, found))
            return f'#include "{ROOT}/{inside}"'

        plain, comments[path] = _plain(body)
        files[f"{ROOT}/{path}"] = _INCLUDE.sub(supplied, plain)
    return Sources(files=files, ignored=tuple(ignored), comments=comments)


def _leaves(asked: str, inside: str) -> bool:
    """Does a name lead out of the header's folder?"""
    return asked.startswith(("/", "~", "\\")) or ":" in asked or inside.startswith("..")


def _plain(text: str) -> tuple[str, Mapping[int, str]]:
    """The text without comments and continued lines, line by line, and what comments say."""
    spliced = "".join(_with_lines_kept(text.replace("\r\n", "\n").translate(_SPACES)))
    plain = _COMMENT_OR_TEXT.sub(_without_comment, spliced)
    comments = [found for found in _COMMENT_OR_TEXT.finditer(spliced) if found[0].startswith("/")]
    return plain, comments_by_line(spliced, comments, plain)


def _with_lines_kept(text: str) -> list[str]:
    """Continued lines made one, the lines that this saves put after them."""
    pieces = []
    saved = 0
    for line in text.splitlines(keepends=True):  # no other ends of lines are left
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
    folder = resources.files("radiosim.c_header") / "stubs"
    return {
        name: (folder / name).read_text(encoding="ascii")
        for name in sorted(set(_SUPPLIED.values()))
    }
