"""Texts as lines of a width, measured in the columns of a terminal."""

import re
from collections.abc import Iterator

TIED = "\N{NO-BREAK SPACE}"
"""A space at which no line ends; a line has a plain space there."""
_LEAST = 12
"""Columns that a text has at least, however narrow a terminal says it is."""


_NARROW = re.compile(r"[ -~\u00a0-\u00ac\u00ae-\u02ff\u2010-\u2027\u2190-\u21ff\u2260-\u2265]*")
"""Letters of which each takes one column, without a look at tables that take time to load."""


def width_of(text: str) -> int:
    """Columns that a text takes."""
    if _NARROW.fullmatch(text):
        return len(text)
    from rich.cells import cell_len  # noqa: PLC0415 - slow to load, and few texts need it

    return cell_len(text)


def _chopped(word: str, width: int) -> list[str]:
    """A word in pieces of at most `width` columns; none of nothing."""
    if width_of(word) <= width:
        return [word] if word else []
    from rich.cells import chop_cells  # noqa: PLC0415 - as above

    return chop_cells(word, width)


def wrapped(text: str, width: int) -> list[str]:
    """Lines of at most `width` columns, broken at spaces; a word that is too long is broken."""
    lines: list[str] = []
    line = ""
    for word in text.split(" "):
        joined = f"{line} {word}" if line else word
        if width_of(joined) <= width:
            line = joined
            continue
        if line:
            lines.append(line)
        *full, line = _chopped(word, max(2, width)) or [""]
        lines.extend(full)
    if line:
        lines.append(line)
    return [line.replace(TIED, " ") for line in lines]


def hung(head: str, text: str, width: int) -> Iterator[str]:
    """Lines of a text after a head; the further ones begin under the first."""
    room = max(_LEAST, width - width_of(head))
    below = " " * min(width_of(head), max(0, width - _LEAST))
    for number, line in enumerate(wrapped(text, room) or [""]):
        yield f"{below if number else head.replace(TIED, ' ')}{line}"


def fold_width(text: str, lines: int) -> int:
    """The least width at which a text wraps to at most so many lines without a broken word."""
    words = text.split(" ")
    least = max(map(width_of, words))
    return next(
        width
        for width in range(least, max(least, width_of(text)) + 1)
        if len(wrapped(text, width)) <= lines or width >= width_of(text)
    )
