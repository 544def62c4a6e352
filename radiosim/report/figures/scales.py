"""Axes of time, and names that fit into a picture."""

from typing import TYPE_CHECKING

from matplotlib.ticker import FuncFormatter, LogLocator, NullFormatter

from radiosim.report.terminal.words import printable

if TYPE_CHECKING:
    from matplotlib.axes import Axes

LONGEST_NAME = 18


def short(name: str, letters: int = LONGEST_NAME) -> str:
    """A name that fits beside a line."""
    text = printable(name)
    return text if len(text) <= letters else f"{text[: letters - 1]}…"


def log_ms(axes: "Axes") -> None:
    """A logarithmic axis of milliseconds, told in the unit that fits."""
    axes.set_xscale("log")
    axes.xaxis.set_major_locator(LogLocator(base=10, numticks=8))
    axes.xaxis.set_major_formatter(FuncFormatter(lambda value, _: time_text(value)))
    axes.xaxis.set_minor_formatter(NullFormatter())


def time_text(ms: float) -> str:
    """A time in ms, µs or s, whichever needs the fewest digits."""
    if ms < 1:
        return f"{ms * 1000:.3g} µs"
    return f"{ms:.3g} ms" if ms < 1000 else f"{ms / 1000:.3g} s"
