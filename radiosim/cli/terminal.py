"""Printing: a report to the terminal's width, in one go; notes a line each where nobody looks."""

import os
import shutil
import sys
import textwrap
from collections.abc import Callable, Iterable
from contextlib import suppress
from typing import TYPE_CHECKING, Literal, TextIO

if TYPE_CHECKING:
    from rich.console import Console

WIDTH = 80
"""Columns of a report; fewer only on a narrower terminal."""


def print_report(draw: "Callable[[Console], None]") -> None:
    """Print what `draw` puts on a console."""
    from rich.console import Console

    # Without colour there is no bold or dim either: they are escape codes too.
    colours: Literal["auto"] | None = None if os.environ.get("NO_COLOR") else "auto"
    console = Console(highlight=False, markup=False, emoji=False, color_system=colours)
    console.width = min(console.width, WIDTH) if console.is_terminal else WIDTH
    # Written in one go by ourselves: the console would end the program if the reader is gone.
    with console.capture() as report:
        draw(console)
    sys.stdout.write(report.get())


def has_letters() -> bool:
    """Whether standard output is a terminal that can show what is drawn with letters."""
    is_plain = os.environ.get("TERM", "") in ("dumb", "unknown")
    columns = shutil.get_terminal_size().columns
    return sys.stdout.isatty() and not is_plain and columns >= WIDTH - 2


def tell(text: str) -> None:
    """Print a note or a refusal on standard error, if it can be: nothing else depends on it."""
    with suppress(OSError):
        print_lines(text.splitlines(), sys.stderr)


def print_lines(lines: Iterable[str], stream: TextIO) -> None:
    """Print each line as it is, so that other programs find it whole; wrap it on a terminal."""
    width = min(WIDTH, shutil.get_terminal_size().columns) if stream.isatty() else 0
    for line in lines:
        print(_wrapped(line, width) if 0 < width < len(line) else line, file=stream)


def _wrapped(line: str, width: int) -> str:
    indent = " " * (len(line) - len(line.lstrip()) + 4)
    return textwrap.fill(
        line,
        width,
        subsequent_indent=indent,
        break_long_words=False,
        break_on_hyphens=False,
    )
