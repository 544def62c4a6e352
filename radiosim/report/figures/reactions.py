"""Figure: does it react in time; every drill's reactions against its bound, term by term."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import TYPE_CHECKING, Any

import msgspec

from radiosim.counted import counted
from radiosim.report.figures.canvas import BAD, GROUND, INK, Canvas, drawing
from radiosim.report.figures.looks import LONGEST_NAME, fill, short
from radiosim.results.document import Drawing, Figure
from radiosim.results.formats import duration_text, list_text
from radiosim.study.drill.results import (
    FAILS,
    HOLDS,
    KEEPS,
    SHORT,
    UNTRIED,
    Drilled,
    DrillFigures,
    Verdict,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.lines import Line2D


NAME = "reactions"
WORDS: dict[Verdict, str] = {
    FAILS: "NOT IN TIME",
    KEEPS: "keeps its value: on_failsafe is hold",
    SHORT: "over before it was due",
    UNTRIED: "NOT TRIED",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class DrillReactions:
    """The worst output of one drill; times since the last frame that counted."""

    fault: str
    unit: str
    output: str
    verdict: Verdict
    terms: tuple[tuple[str, float], ...]
    """What the bound is made of, ms; empty without one."""
    bound_ms: float | None
    reachable_ms: float | None
    median_ms: float | None
    worst_ms: float | None

    @property
    def is_bad(self) -> bool:
        """Whether it fails, or was not tried."""
        return self.verdict in (FAILS, UNTRIED)


@dataclass(frozen=True, slots=True, kw_only=True)
class ReactionsData:
    """All drills, in the order in which they were made."""

    repeats: int
    """Faults of each."""
    drills: tuple[DrillReactions, ...]


def reactions_data(drilled: Drilled) -> ReactionsData:
    """The numbers of a drill."""
    groups = groupby(drilled.drills, key=lambda drill: (drill.fault, drill.unit))
    return ReactionsData(
        repeats=drilled.repeats,
        drills=tuple(_reactions(worst_output(tuple(group))) for _, group in groups),
    )


def _reactions(drill: DrillFigures) -> DrillReactions:
    return DrillReactions(
        fault=drill.fault,
        unit=drill.unit,
        output=drill.output,
        verdict=drill.verdict,
        terms=tuple((term.name, term.ms) for term in drill.terms),
        bound_ms=drill.bound_ms,
        reachable_ms=drill.reachable_ms and max(drill.reachable_ms, drill.silence_ms.max or 0.0),
        median_ms=drill.silence_ms.median,
        worst_ms=drill.silence_ms.max,
    )


def figure(drilled: Drilled) -> Figure:
    """The figure of a drill."""
    return figure_of(reactions_data(drilled))


def figure_of(data: ReactionsData) -> Figure:
    """The figure of reactions and bounds."""
    title = _title(data)
    return Figure(
        name=NAME,
        title=title,
        text=" ".join(_texts(data)),
        data=msgspec.to_builtins(data),
        draw=lambda: drawing_of(data, NAME, title),
    )


def _title(data: ReactionsData) -> str:
    bad = [drill for drill in data.drills if drill.is_bad]
    if bad:
        names = tuple(dict.fromkeys(f"{drill.fault} {drill.unit}" for drill in bad))
        more = f" and at {len(names) - 2} more faults" if len(names) > 3 else ""
        return f"Not everything reacts in time: {_first(bad)}{more}"
    timed = [drill for drill in data.drills if drill.worst_ms is not None]
    if not timed:
        return "No drill had anything to react to"
    longest = max(timed, key=lambda drill: drill.worst_ms or 0.0)
    does_keep = any(drill.verdict == KEEPS for drill in data.drills)
    what = "What is to react does so" if does_keep else "Everything reacts"
    return (
        f"{what} within its bound; from the last frame that counted the longest takes "
        f"{duration_text(longest.worst_ms)}: {longest.output} at {longest.fault} {longest.unit}"
    )


def _first(bad: list[DrillReactions]) -> str:
    few = bad[:2] if len(bad) > 3 else bad
    return list_text(tuple(f"{drill.output} at {drill.fault} {drill.unit}" for drill in few))


def _texts(data: ReactionsData) -> Iterator[str]:
    yield (
        f"Each drill {counted(data.repeats, 'time')}, its worst output: time from the last frame "
        "that counted until failsafe is in effect. Bars: the bound, term by term."
    )
    timed = [d for d in data.drills if d.worst_ms is not None and d.verdict != FAILS]
    for output in dict.fromkeys(drill.output for drill in timed):
        mine = [drill for drill in timed if drill.output == output]
        worst = max(mine, key=lambda drill: drill.worst_ms or 0.0)
        bound = "no bound" if worst.bound_ms is None else f"bound {duration_text(worst.bound_ms)}"
        yield (
            f"{output}: at most {duration_text(worst.worst_ms)}, at {worst.fault} {worst.unit} "
            f"({', '.join((bound, *_parts(worst)))})."
        )
    for verdict, words in WORDS.items():
        faults = tuple(f"{d.fault} {d.unit}" for d in data.drills if d.verdict == verdict)
        if faults:
            yield f"{words.capitalize()}: {list_text(faults)}."


def _parts(drill: DrillReactions) -> tuple[str, ...]:
    return tuple(f"{name} {duration_text(ms)}" for name, ms in drill.terms)


NARROW_LETTERS = 9
ROW_PX = 24
HEAD_PX = 150


_RANK: tuple[Verdict, ...] = (FAILS, UNTRIED, HOLDS, KEEPS, SHORT)


def worst_output(drills: Sequence[DrillFigures]) -> DrillFigures:
    """Of one fault's outputs: what fails, of those what moves the worst, of those the last."""
    return max(drills, key=_badness)


def _badness(drill: DrillFigures) -> tuple[int, int, int, float]:
    return (
        -_RANK.index(drill.verdict),
        -drill.danger if drill.verdict == FAILS else 0,
        drill.still_driven_repeats,
        drill.reaction_ms.max or 0.0,
    )


def drawing_of(data: ReactionsData, name: str, title: str) -> Drawing:
    """The pictures."""
    height_px = HEAD_PX + ROW_PX * len(data.drills)
    return drawing(
        name,
        title,
        lambda canvas: _paint(canvas, data),
        height_px=height_px,
        narrow_height_px=height_px + 140,
    )


def _paint(canvas: Canvas, data: ReactionsData) -> None:
    from matplotlib.patches import Patch

    (axes,) = canvas.axes()
    names = tuple(dict.fromkeys(name for drill in data.drills for name, _ in drill.terms))
    styles = {name: fill(number) for number, name in enumerate(names)}
    for row, drill in enumerate(data.drills):
        _bars(axes, row, drill, styles)
    _marks(axes, data)
    letters = NARROW_LETTERS if canvas.is_narrow else LONGEST_NAME
    axes.set_yticks(
        range(len(data.drills)),
        [f"{drill.fault} {short(drill.unit, letters)}" for drill in data.drills],
    )
    for label, drill in zip(axes.get_yticklabels(), data.drills, strict=True):
        if drill.is_bad:
            label.set(color=BAD, weight="bold")
    axes.set_ylim(len(data.drills) - 0.4, -0.6)
    axes.set_xlim(left=0)
    axes.set_xlabel(f"ms since the last frame{'' if canvas.is_narrow else ' that counted'}")
    axes.tick_params(axis="y", length=0)
    axes.grid(visible=True, axis="x")
    axes.set_axisbelow(True)
    handles = [Patch(label=name, **style) for name, style in styles.items()]
    canvas.legend(
        handles=[*handles, *_legend()],
        ncols=1 if canvas.is_narrow else 3,
    )


def _bars(axes: "Axes", row: int, drill: DrillReactions, styles: dict[str, dict[str, Any]]) -> None:
    left = 0.0
    for name, ms in drill.terms if drill.worst_ms is not None else ():
        axes.barh(row, ms, left=left, height=0.62, **styles[name])
        left += ms
    if drill.verdict in WORDS and (drill.worst_ms is None or drill.verdict == FAILS):
        is_bad = drill.is_bad
        axes.annotate(
            WORDS[drill.verdict],
            (0, row),
            xytext=(5, 0),
            textcoords="offset points",
            va="center",
            color=BAD if is_bad else INK,
            weight="bold" if is_bad else "normal",
            bbox={"boxstyle": "square,pad=0.15", "facecolor": GROUND, "edgecolor": "none"},
        )


def _marks(axes: "Axes", data: ReactionsData) -> None:
    rows = list(enumerate(data.drills))
    median = [(d.median_ms, row) for row, d in rows if d.median_ms is not None]
    worst = [(d.worst_ms, row) for row, d in rows if d.worst_ms is not None]
    reach = [(d.reachable_ms, row) for row, d in rows if d.reachable_ms and d.worst_ms is not None]
    for points, style in zip((reach, median, worst), _STYLES, strict=True):
        if points:
            axes.plot(*zip(*points, strict=True), **style, clip_on=False, zorder=4)


_STYLES: tuple[dict[str, Any], ...] = (
    {"marker": "|", "color": INK, "ls": "", "ms": 13, "mew": 1.6},
    {"marker": "o", "color": INK, "mfc": GROUND, "ls": "", "ms": 5},
    {"marker": "D", "color": INK, "mec": GROUND, "ls": "", "ms": 6},
)


def _legend() -> "list[Line2D]":
    from matplotlib.lines import Line2D

    labels = ("worst that can be reached", "drilled: median", "drilled: worst")
    return [
        Line2D([], [], label=label, **style) for label, style in zip(labels, _STYLES, strict=True)
    ]
