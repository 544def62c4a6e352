"""How things in figures look: fills told apart, axes of time, names that fit."""

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from radiosim.errors import printable
from radiosim.report.figures.canvas import INK, QUIET, SERIES

if TYPE_CHECKING:
    from matplotlib.axes import Axes


FILLS = ("", "///", "xx", "--", "\\\\\\", "||", "++")
"""Lines only: a pattern of dots takes a quarter of a megabyte."""


def fill(number: int, opacity: float = 0.5) -> dict[str, Any]:
    """Colour and pattern of things that are counted from 0; no two of the first 28 are alike."""
    colour = SERIES[number % len(SERIES)]
    return {
        "facecolor": (colour, opacity),
        "edgecolor": colour,
        "hatch": FILLS[number % len(FILLS)],
        "lw": 0.6,
    }


LONGEST_NAME = 18
_TICKS = ((1.6, (1.0, 2.0, 5.0)), (2.4, (1.0, 3.0)), (math.inf, (1.0,)))
"""Up to so many decades an axis of times has ticks at these parts of each."""
LEFT_FROM = 0.4
"""Part of the axis from which words have more room on the left, the axis' own words' included."""
_ROW_PX = 15
"""Of a word above the axes."""


def short(name: str, letters: int = LONGEST_NAME) -> str:
    """A name that fits beside a line."""
    text = printable(name)
    return text if len(text) <= letters else f"{text[: letters - 1]}…"


def short_names(names: Sequence[str], letters: int = LONGEST_NAME) -> list[str]:
    """Names that fit beside lines, and differ: they are cut in the middle where ends tell more."""
    cut = [short(name, letters) for name in names]
    if len(set(cut)) == len(cut):
        return cut
    head = letters // 2
    texts = [printable(name) for name in names]
    tail = letters - head - 1
    return [t if len(t) <= letters else f"{t[:head]}…{t[len(t) - tail :]}" for t in texts]


def log_ms(axes: "Axes") -> None:
    """A logarithmic axis of milliseconds, told in the unit that fits; limits must be set."""

    from matplotlib.ticker import FuncFormatter, LogLocator, NullLocator

    axes.set_xscale("log")
    low, high = axes.get_xlim()
    decades = math.log10(high / low)
    subs = next(subs for most, subs in _TICKS if decades <= most)
    axes.xaxis.set_major_locator(LogLocator(base=10, subs=subs, numticks=12))
    axes.xaxis.set_major_formatter(FuncFormatter(lambda value, _: time_text(value)))
    axes.xaxis.set_minor_locator(NullLocator())


def label_shares(axes: "Axes", label: str) -> None:
    """Shares upwards, as per cents, on a grid."""
    axes.set_ylabel(label)
    axes.yaxis.set_major_formatter(lambda value, _: f"{100 * value:g} %")
    axes.yaxis.minorticks_off()
    axes.grid(visible=True)
    axes.tick_params(color=QUIET)


def time_text(ms: float) -> str:
    """A time in ms, µs or s, whichever needs the fewest fmt_sig3."""
    if ms < 1:
        return f"{ms * 1000:.3g} µs"
    return f"{ms:.3g} ms" if ms < 1000 else f"{ms / 1000:.3g} s"


def marked_times(axes: "Axes", names: Mapping[float, str]) -> None:
    """Upright lines at times in ms, each with its name in a row of its own above the axes."""
    if not names:
        return
    low, high = axes.get_xlim()
    middle = math.fsum(math.log(ms / low) for ms in names) / len(names)
    # All words stand on one side, the lines of their neighbours on the other.
    is_left = middle > LEFT_FROM * math.log(high / low)
    for row, ms in enumerate(sorted(names, reverse=not is_left)):
        top = 3 + _ROW_PX * row
        axes.axvline(ms, color=INK, ls=(0, (1, 1.5)), lw=1.4)
        place: dict[str, Any] = {
            "xycoords": ("data", "axes fraction"),
            "textcoords": "offset points",
        }
        stem = {"arrowstyle": "-", "color": INK, "lw": 0.8, "shrinkA": 0, "shrinkB": 0}
        axes.annotate("", (ms, 1), xytext=(0, top + _ROW_PX - 4), arrowprops=stem, **place)
        axes.annotate(
            names[ms],
            (ms, 1),
            xytext=(-4 if is_left else 4, top),
            ha="right" if is_left else "left",
            va="bottom",
            **place,
        )
