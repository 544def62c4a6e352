"""Texts as lines of a width, measured in the columns of a terminal."""

from collections.abc import Iterator

from rich.cells import cell_len, chop_cells

TIED = "\N{NO-BREAK SPACE}"
"""A space at which no line ends; a line has a plain space there."""
_LEAST = 12
"""Columns that a text has at least, however narrow a terminal says it is."""


def width_of(text: str) -> int:
    """Columns that a text takes."""
    return cell_len(text)


def wrapped(text: str, width: int) -> list[str]:
    """Lines of at most `width` columns, broken at spaces; a word that is too long is broken."""
    lines: list[str] = []
    line = ""
    for word in text.split(" "):
        joined = f"{line} {word}" if line else word
        if cell_len(joined) <= width:
            line = joined
            continue
        if line:
            lines.append(line)
        *full, line = chop_cells(word, max(2, width)) or [""]
        lines.extend(full)
    if line:
        lines.append(line)
    return [line.replace(TIED, " ") for line in lines]


def hung(head: str, text: str, width: int) -> Iterator[str]:
    """Lines of a text after a head; the further ones begin under the first."""
    room = max(_LEAST, width - cell_len(head))
    below = " " * min(cell_len(head), max(0, width - _LEAST))
    for number, line in enumerate(wrapped(text, room) or [""]):
        yield f"{below if number else head.replace(TIED, ' ')}{line}"


def fold_width(text: str, lines: int) -> int:
    """The least width at which a text wraps to at most so many lines without a broken word."""
    words = text.split(" ")
    least = max(map(cell_len, words))
    return next(
        width
        for width in range(least, max(least, cell_len(text)) + 1)
        if len(wrapped(text, width)) <= lines or width >= cell_len(text)
    )
