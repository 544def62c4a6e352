"""Where a link breaks over two periods, and for which cause, as letters."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from radiosim.results.document import Sentence
from radiosim.results.formats import fmt_exact
from radiosim.study.tune import point as cause
from radiosim.study.tune.influence import is_grid
from radiosim.study.tune.put_back import explains
from radiosim.study.tune.tune_results import Tried, Tuned
from radiosim.study.tune.varied import Setting, Value

LETTERS = {
    cause.BEAT: "B",
    cause.COLLISION: "C",
    cause.DEAF: "D",
    cause.FULL: "F",
    cause.BUSY: "T",
    cause.RANGE: "R",
    cause.CHANCE: "L",
    cause.SLOW: "S",
    cause.UNNOTICED: "N",
    cause.OFF: "O",
    cause.FAULT: "P",
}
HOLDS, HOLDS_BEATING, REFUSED, NOTHING = ".", "~", "x", " "
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

    def letter_at(self, across: Value | None, down: Value | None) -> str:
        """Letter of the cell in which two values lie; `NOTHING` if they lie in none."""
        if across is None or isinstance(across, str) or down is None or isinstance(down, str):
            return NOTHING
        columns = [k for k, (low, high) in enumerate(self.across) if low <= across <= high]
        rows = [k for k, (low, high) in enumerate(self.down) if low <= down <= high]
        return self.letters[rows[0]][columns[0]] if rows and columns else NOTHING

    @property
    def used(self) -> str:
        """Letters that stand in it."""
        return "".join(dict.fromkeys(sorted("".join(self.letters))))


def mapped_settings(found: Tuned) -> tuple[int, int] | None:
    """Numbers of the two settings that explain most of how the points differ, in their order.

    None if fewer than two that are numbers explain anything, or if the points lie scattered over
    more settings than two: a cell would show what others did.
    """
    telling = _telling(found)
    if len(telling) < 2 or _is_scattered(found):
        return None
    across, down = sorted(telling[:2])
    return across, down


def _telling(found: Tuned) -> list[int]:
    """Numbers of the settings that are numbers and explain something, the weightiest first."""
    shares = [found.influence.get(setting.key) for setting in found.settings]
    return sorted(
        (
            k
            for k, (setting, share) in enumerate(zip(found.settings, shares, strict=True))
            if share is not None and explains(share) and not setting.is_words
        ),
        key=lambda k: -found.influence[found.settings[k].key].first_order,
    )


def _is_scattered(found: Tuned) -> bool:
    return len(found.settings) > 2 and not is_grid([point.values for point in found.points])


def no_map_texts(found: Tuned) -> Iterator[str | Sentence]:
    """Why there is no map, and what would make one; nothing if two settings were not tried."""
    telling = _telling(found)
    if not found.influence or len(found.settings) < 2:
        return
    if len(telling) < 2:
        said = "fewer than two of the settings that are numbers explain how the points differ"
        yield f"No map: {said}."
        return
    two = [found.settings[k] for k in sorted(telling[:2])]
    yield (
        f"No map: {len(found.points)} points lie scattered over {len(found.settings)} settings. "
        "For one over the two that explain most, with what was recommended set:"
    )
    for setting in two:
        yield Sentence(text=f"--vary {_range_text(setting)}", form="code")


MOST_TRIED = 12
"""Values of each setting in a map that is proposed."""


def _range_text(setting: Setting) -> str:
    """A setting with values from its lowest to its highest, as `--vary` takes them."""
    values = sorted(value for value in setting.values if not isinstance(value, str))
    if len(values) <= MOST_TRIED:
        return f"{setting.key}={','.join(map(fmt_exact, values))}"
    step = -(-(values[-1] - values[0]) // (MOST_TRIED - 1))
    return f"{setting.key}={values[0]:g}:{values[-1]:g}:{step:g}"


def own_cell_text(found: Tuned, made: Map, across: int, down: int) -> str:
    """Why the cell of the scenario's own settings holds where it does not; empty if they agree."""
    own = found.as_it_stands
    letter = made.letter_at(own.values[across], own.values[down])
    if own.ok or letter not in (HOLDS, HOLDS_BEATING):
        return ""
    return (
        "The scenario's own cell holds at its best point, with other settings; as it stands the "
        f"scenario {'is refused' if own.figures is None else 'misses a requirement'}."
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
    columns = _bins([_value(point, across) for point in points], most[0], len(points))
    rows = _bins([_value(point, down) for point in points], most[1], len(points))
    cells: dict[tuple[int, int], Tried] = {}
    for tried in points:
        place = _bin_of(_value(tried, down), rows), _bin_of(_value(tried, across), columns)
        if place not in cells or _order(tried) > _order(cells[place]):
            cells[place] = tried
    return Map(
        across=columns,
        down=rows,
        letters=tuple(
            "".join(_letter(cells.get((row, column))) for column in range(len(columns)))
            for row in range(len(rows))
        ),
    )


def _value(tried: Tried, setting: int) -> float:
    """Value of a point that was asked for: it has a number for every setting."""
    value = tried.values[setting]
    assert value is not None
    assert not isinstance(value, str)
    return value


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


def _order(tried: Tried) -> tuple[bool, bool, float]:
    """What holds without beating stands for its cell."""
    margin = -2.0 if tried.margin is None else tried.margin
    return tried.ok and not tried.beating, tried.ok, margin


def _letter(tried: Tried | None) -> str:
    if tried is None:
        return NOTHING
    if tried.figures is None:
        return REFUSED
    if tried.ok:
        return HOLDS_BEATING if tried.beating else HOLDS
    return LETTERS[tried.figures.cause]
