"""Where a link breaks over two periods, and for which cause, as letters."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from radiosim.study.tune import point
from radiosim.study.tune.rank import Tried
from radiosim.study.tune.tuned import Tuned

LETTERS = {
    point.BEAT: "M",
    point.COLLISION: "C",
    point.DEAF: "D",
    point.FULL: "F",
    point.BUSY: "B",
    point.RANGE: "R",
    point.CHANCE: "L",
    point.SLOW: "S",
    point.UNNOTICED: "N",
}
HOLDS, HOLDS_NEAR, REFUSED, NOTHING = ".", "~", "x", " "
MOST_ACROSS, MOST_DOWN = 40, 20


@dataclass(frozen=True, slots=True, kw_only=True)
class Map:
    """Letters over two settings."""

    across: tuple[tuple[float, float], ...]
    """Lowest and highest value of each column."""
    down: tuple[tuple[float, float], ...]
    """And of each row."""
    letters: tuple[str, ...]
    """One text a row, one letter a column."""

    def letter_at(self, across: float, down: float) -> str:
        """Of the cell in which two values lie; `NOTHING` if they lie in none."""
        columns = [k for k, (low, high) in enumerate(self.across) if low <= across <= high]
        rows = [k for k, (low, high) in enumerate(self.down) if low <= down <= high]
        return self.letters[rows[0]][columns[0]] if rows and columns else NOTHING

    @property
    def used(self) -> str:
        """Letters that stand in it."""
        return "".join(dict.fromkeys(sorted("".join(self.letters))))


def paces_of(found: Tuned) -> tuple[int, ...]:
    """Numbers of the settings that are periods or pauses."""
    return tuple(
        k for k, it in enumerate(found.settings) if it.key.endswith((".period_ms", ".pause_ms"))
    )


def own_cell_text(found: Tuned, made: Map, across: int, down: int) -> str:
    """Why the cell of the scenario's own settings holds where it does not; empty if they agree."""
    own = found.as_it_stands
    letter = made.letter_at(own.values[across], own.values[down])
    if own.ok or letter not in (HOLDS, HOLDS_NEAR):
        return ""
    return (
        "The scenario's own cell holds at its best point, with other settings; as it stands the "
        f"scenario {'is refused' if own.margin is None else 'misses a requirement'}."
    )


def map_of(
    points: Sequence[Tried],
    across: int,
    down: int,
    *,
    most: tuple[int, int] = (MOST_ACROSS, MOST_DOWN),
) -> Map:
    """The best point of every cell; values are taken together where they are more than `most`.

    `across`, `down`: numbers of the two settings.
    """
    columns = _bins([it.values[across] for it in points], most[0], len(points))
    rows = _bins([it.values[down] for it in points], most[1], len(points))
    cells: dict[tuple[int, int], Tried] = {}
    for it in points:
        place = _bin_of(it.values[down], rows), _bin_of(it.values[across], columns)
        if place not in cells or _order(it) > _order(cells[place]):
            cells[place] = it
    return Map(
        across=columns,
        down=rows,
        letters=tuple(
            "".join(_letter(cells.get((row, column))) for column in range(len(columns)))
            for row in range(len(rows))
        ),
    )


def _bins(values: Sequence[float], most: int, points: int) -> tuple[tuple[float, float], ...]:
    """Groups of neighbouring values: as many as there are, unless points would lie too thin."""
    levels = sorted(set(values))
    # A grid has a point for every cell; of others some two should fall into each.
    is_grid = points >= len(levels) ** 2
    wanted = min(most, len(levels), len(levels) if is_grid else max(4, math.isqrt(points // 2)))
    size = -(-len(levels) // wanted) if levels else 1
    return tuple(
        (levels[k], levels[min(k + size, len(levels)) - 1]) for k in range(0, len(levels), size)
    )


def _bin_of(value: float, bins: Sequence[tuple[float, float]]) -> int:
    return next(k for k, (low, high) in enumerate(bins) if low <= value <= high)


def _order(it: Tried) -> tuple[bool, bool, float]:
    """What holds without beating stands for its cell."""
    margin = -2.0 if it.margin is None else it.margin
    return it.ok and not it.is_near, it.ok, margin


def _letter(it: Tried | None) -> str:
    if it is None:
        return NOTHING
    if it.margin is None:
        return REFUSED
    if it.ok:
        return HOLDS_NEAR if it.is_near else HOLDS
    return LETTERS[it.row["cause"]]
