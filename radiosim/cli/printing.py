"""Printing a report: to the terminal's width, in one go."""

import os
import sys
from collections.abc import Callable
from typing import TYPE_CHECKING, Literal

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
