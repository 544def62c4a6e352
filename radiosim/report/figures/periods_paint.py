"""The picture of where a link breaks over two periods."""

from typing import TYPE_CHECKING, Any

from radiosim.report.figures.canvas import (
    BAD,
    GOOD,
    GROUND,
    INK,
    LINE,
    QUIET,
    SERIES,
    Canvas,
    drawing,
)
from radiosim.report.figures.fills import FILLS
from radiosim.report.figures.periods import WORDS, PeriodsData, counts_of, named
from radiosim.report.figures.scales import short
from radiosim.report.tune_map import HOLDS, HOLDS_BEATING, LETTERS, NOTHING, REFUSED
from radiosim.results.document import Drawing
from radiosim.results.formats import fmt_exact

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.lines import Line2D


def drawing_of(data: PeriodsData, name: str, title: str) -> Drawing:
    """The pictures."""
    rows, marks = len(data.down), len(counts_of(data)) + 2
    return drawing(
        name,
        title,
        lambda canvas: _paint(canvas, data),
        height_px=60 + 22 * -(-marks // 3) + max(180, 26 * rows),
        narrow_height_px=60 + 19 * marks + max(180, 16 * rows),
    )


def _looks(letter: str) -> dict[str, Any]:
    """Colour and hatch of a cell; letters stand in it besides."""
    if letter == HOLDS:
        return {"facecolor": (GOOD, 0.2), "edgecolor": QUIET, "lw": 0.3}
    if letter == NOTHING:
        return {"facecolor": "none", "edgecolor": LINE, "lw": 0, "hatch": "--"}
    if letter == HOLDS_BEATING:
        return {"facecolor": (SERIES[0], 0.3), "edgecolor": QUIET, "lw": 0.3, "hatch": "///"}
    if letter == REFUSED:
        return {"facecolor": (QUIET, 0.3), "edgecolor": QUIET, "lw": 0.3, "hatch": "xx"}
    number = list(LETTERS.values()).index(letter)
    colour = BAD if number == 0 else SERIES[number % len(SERIES)]
    hatch = FILLS[(number + 3) % len(FILLS)]
    return {"facecolor": (colour, 0.45), "edgecolor": INK, "lw": 0.3, "hatch": hatch}


def _paint(canvas: Canvas, data: PeriodsData) -> None:
    from matplotlib.patches import Patch, Rectangle

    (axes,) = canvas.axes()
    size = 7 if canvas.is_narrow else 10
    for row, letters in enumerate(data.letters):
        for column, letter in enumerate(letters):
            if letter not in WORDS:
                continue
            axes.add_patch(Rectangle((column - 0.5, row - 0.5), 1, 1, **_looks(letter)))
            if letter in LETTERS.values():
                axes.annotate(
                    letter, (column, row), ha="center", va="center", size=size, weight="bold",
                    bbox={"boxstyle": "circle,pad=0.1", "facecolor": GROUND, "edgecolor": "none"},
                )  # fmt: skip
    axes.set_xlim(-0.5, len(data.across) - 0.5)
    axes.set_ylim(-0.5, len(data.down) - 0.5)
    places = _mark_places(axes, data)
    step_x, step_y = (max(1, -(-n // (8 if canvas.is_narrow else 12))) for n in _sizes(data))
    axes.set_xticks(
        range(0, len(data.across), step_x), [fmt_exact(low) for low, _ in data.across[::step_x]]
    )
    axes.set_yticks(
        range(0, len(data.down), step_y), [fmt_exact(low) for low, _ in data.down[::step_y]]
    )
    axes.tick_params(length=0)
    axes.set_xlabel(_label(data.across_key))
    axes.set_ylabel(_label(data.down_key))
    handles = [Patch(label=named(letter), **_looks(letter)) for letter in sorted(counts_of(data))]
    canvas.legend(
        handles=[*handles, *places],
        ncols=1 if canvas.is_narrow else 3,
    )


def _sizes(data: PeriodsData) -> tuple[int, int]:
    return len(data.across), len(data.down)


def _label(key: str) -> str:
    name, _, setting = key.removeprefix("transmitter.").rpartition(".")
    words, _, unit = setting.rpartition("_")
    return f"{short(name)}, {words}, {unit}"


def _mark_places(axes: "Axes", data: PeriodsData) -> "list[Line2D]":
    """The recommended point and the scenario's own, where they lie on the map."""

    from matplotlib.lines import Line2D

    styles: tuple[tuple[str, tuple[float, float] | None, dict[str, Any]], ...] = (
        ("recommended", data.best, {"marker": "*", "ms": 13, "mfc": GROUND, "mec": INK}),
        ("as it stands", data.now, {"marker": "s", "ms": 13, "mfc": "none", "mec": INK, "mew": 2}),
    )
    made = []
    for label, values, style in styles:
        if values is None:
            continue
        place = _place(values[0], data.across), _place(values[1], data.down)
        if None in place:
            continue
        axes.plot(*place, ls="", zorder=5, **style)  # type: ignore[arg-type]  # both are numbers
        made.append(Line2D([], [], ls="", label=label, **{**style, "ms": 9}))
    return made


def _place(value: float, cells: tuple[tuple[float, float], ...]) -> float | None:
    """Where a value lies, in cells; between two of them where it falls between."""
    for number, (low, high) in enumerate(cells):
        if low <= value <= high:
            return float(number)
        if value < low:
            return number - 0.5 if number else None
    return None
