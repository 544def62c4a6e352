"""Figure: which periods; where a link breaks over the two settings that explain most of it, and for
which cause."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import msgspec

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
from radiosim.report.figures.looks import FILLS, short
from radiosim.report.tune_map import (
    HOLDS,
    HOLDS_BEATING,
    LETTERS,
    NOTHING,
    REFUSED,
    Map,
    map_of,
    mapped_settings,
    own_cell_text,
)
from radiosim.results.document import Drawing, Figure
from radiosim.results.formats import fmt_exact
from radiosim.study.tune.tune_results import Tried, Tuned

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.lines import Line2D


NAME = "periods"
MOST_CELLS = 20
"""In each direction: more would be too small on a phone."""
WORDS = {
    HOLDS: "holds",
    HOLDS_BEATING: "holds, but the clocks beat",
    REFUSED: "no sound scenario",
    NOTHING: "not tried",
} | {letter: f"broken: {cause}" for cause, letter in LETTERS.items()}


@dataclass(frozen=True, slots=True, kw_only=True)
class PeriodsData:
    """The best point of every cell."""

    across_key: str
    down_key: str
    across: tuple[tuple[float, float], ...]
    """Lowest and highest value of each column."""
    down: tuple[tuple[float, float], ...]
    letters: tuple[str, ...]
    """One text a row of cells, one letter a cell: `.` holds, else why not."""
    best: tuple[float, float] | None
    """Values of the recommended point, across and down."""
    now: tuple[float, float] | None
    """Values of the scenario; None if it has no number there."""
    own_cell: str = ""
    """Why the scenario's own cell holds where the scenario does not; empty if they agree."""


def periods_data(found: Tuned) -> PeriodsData | None:
    """The numbers of a tuning; None if no two settings can be shown."""
    shown = mapped_settings(found)
    if shown is None:
        return None
    across, down = shown
    made = map_of(found.points, across, down, most=(MOST_CELLS, MOST_CELLS))
    best = None if found.best is None else _at(found.best, across, down)
    return PeriodsData(
        across_key=found.settings[across].key,
        down_key=found.settings[down].key,
        across=made.across,
        down=made.down,
        letters=made.letters,
        best=best,
        now=_at(found.as_it_stands, across, down),
        own_cell=own_cell_text(found, made, across, down),
    )


def _at(tried: Tried, across: int, down: int) -> tuple[float, float] | None:
    """Where a point lies; None if it has no number there."""
    right, up = tried.values[across], tried.values[down]
    if right is None or isinstance(right, str) or up is None or isinstance(up, str):
        return None
    return right, up


def figure(found: Tuned) -> Figure | None:
    """The figure of a tuning; None if no two settings can be shown."""
    data, shown = periods_data(found), mapped_settings(found)
    if data is None or shown is None:
        return None
    return figure_of(data, _letters(map_of(found.points, *shown)))


def figure_of(data: PeriodsData, letters: tuple[str, ...] = ()) -> Figure:
    """The figure of cells; `letters`: lines that show it on a terminal."""
    title = _title(data)
    return Figure(
        name=NAME,
        title=title,
        text=_text(data),
        data=msgspec.to_builtins(data),
        draw=lambda: drawing_of(data, NAME, title),
        letters=letters,
    )


def _letters(made: Map) -> tuple[str, ...]:
    """A dot where all holds at some point of the cell, else a letter for what broke it."""
    return tuple(
        f"  {_ends_text(ends):>9}  {letters}"
        for ends, letters in zip(made.down, made.letters, strict=True)
    )


def letters_texts(found: Tuned) -> Iterator[str]:
    """What a reader of the letters needs: which setting is where, and what they say."""
    shown = mapped_settings(found)
    if shown is None:
        return
    across, down = shown
    made = map_of(found.points, across, down)
    columns = f"{fmt_exact(made.across[0][0])} to {fmt_exact(made.across[-1][1])}"
    yield f"Down: {found.settings[down].key}. Across: {found.settings[across].key}, {columns}."
    legend = [f"{letter} {WORDS[letter]}" for letter in made.used if letter != NOTHING]
    legend += ["blank: not tried"] if NOTHING in made.used else []
    yield f"{'; '.join(legend)}."
    own = own_cell_text(found, made, across, down)
    if own:
        yield own


def _ends_text(ends: tuple[float, float]) -> str:
    low, high = ends
    return f"{low:g}" if low == high else f"{low:g}-{high:g}"


def counts_of(data: PeriodsData) -> Counter[str]:
    """How many cells have each letter."""
    return Counter(letter for letter in "".join(data.letters) if letter in WORDS)


def _tried(data: PeriodsData) -> int:
    """Cells with a point."""
    return sum(n for letter, n in counts_of(data).items() if letter != NOTHING)


def _title(data: PeriodsData) -> str:
    counts = counts_of(data)
    broken = {letter: n for letter, n in counts.items() if letter in LETTERS.values()}
    held, cells = counts[HOLDS], _tried(data)
    if not broken:
        return f"{held} of {cells} pairs of {_what(data)} hold without beating clocks"
    worst = max(broken, key=lambda letter: broken[letter])
    return (
        f"{sum(broken.values())} of {cells} pairs of {_what(data)} break; the commonest cause: "
        f"{WORDS[worst].removeprefix('broken: ')}"
    )


def _what(data: PeriodsData) -> str:
    """What is paired."""
    keys = data.across_key, data.down_key
    return "periods" if all(key.endswith(".period_ms") for key in keys) else "values"


def _text(data: PeriodsData) -> str:
    counts = counts_of(data)
    said = ", ".join(f"{n} {named(letter)}" for letter, n in counts.most_common())
    (first, last), (low, high) = _ends(data.across), _ends(data.down)
    best = "" if data.best is None else f" Recommended: {_pair(data.best)}."
    now = "" if data.now is None else f" The scenario has {_pair(data.now)}."
    return (
        f"{data.across_key} from {_pair((first, last), ' to ')} across, {data.down_key} from "
        f"{_pair((low, high), ' to ')} up; the best point of each of {sum(counts.values())} "
        f"cells: {said}.{best}{now}{f' {data.own_cell}' if data.own_cell else ''}"
    )


def _pair(values: tuple[float, float], between: str = ", ") -> str:
    return between.join(map(fmt_exact, values))


def named(letter: str) -> str:
    """What a letter says, after the letter if it stands in its cells."""
    words = WORDS[letter]
    return f"({letter}) {words}" if letter in LETTERS.values() else words


def _ends(cells: tuple[tuple[float, float], ...]) -> tuple[float, float]:
    return cells[0][0], cells[-1][1]


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
