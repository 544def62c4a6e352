"""Figure: does it stop in time; every drill's stops against its bound, term by term."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby
from typing import TYPE_CHECKING, Any

from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from radiosim.counted import counted
from radiosim.report.drill.worst_output import worst_output
from radiosim.report.figures.canvas import BAD, GROUND, INK, Canvas, drawn
from radiosim.report.figures.drawn import Drawn
from radiosim.report.figures.fills import fill
from radiosim.report.figures.scales import LONGEST_NAME, short
from radiosim.report.terminal.words import digits, listed
from radiosim.study.drill.results import FAILED, HELD, SHORT, UNTRIED, Drilled, DrillFigures

if TYPE_CHECKING:
    from matplotlib.axes import Axes

NARROW_LETTERS = 9
ROW_PX = 24
HEAD_PX = 150
_SAID = {
    FAILED: "NOT STOPPED IN TIME",
    HELD: "holds, as the scenario says",
    SHORT: "over before it was due",
    UNTRIED: "NOT TRIED",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class DrillStops:
    """The worst output of one drill; times since the last frame that counted."""

    fault: str
    unit: str
    output: str
    verdict: str
    terms: tuple[tuple[str, float], ...]
    """What the bound is made of, ms; empty without one."""
    bound_ms: float | None
    reachable_ms: float | None
    median_ms: float | None
    worst_ms: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class StopsData:
    """All drills, in the order in which they were made."""

    points: int
    """Faults of each."""
    drills: tuple[DrillStops, ...]


def stops_data(drilled: Drilled) -> StopsData:
    """The numbers of a drill."""
    groups = groupby(drilled.drills, key=lambda drill: (drill.fault, drill.unit))
    return StopsData(
        points=drilled.repeats, drills=tuple(_stops(worst_output(group)) for _, group in groups)
    )


def _stops(drill: DrillFigures) -> DrillStops:
    return DrillStops(
        fault=drill.fault,
        unit=drill.unit,
        output=drill.output,
        verdict=drill.verdict,
        terms=tuple((term.name, term.ms) for term in drill.terms),
        bound_ms=drill.bound_ms,
        reachable_ms=drill.reachable_ms,
        median_ms=drill.silence_ms.median,
        worst_ms=drill.silence_ms.max,
    )


def draw(data: StopsData) -> Drawn:
    """The figure."""
    return drawn(
        "stops",
        data,
        title=_title(data),
        text=" ".join(_texts(data)),
        paint=lambda canvas: _paint(canvas, data),
        height_px=HEAD_PX + ROW_PX * len(data.drills),
        narrow_height_px=HEAD_PX + 140 + ROW_PX * len(data.drills),
    )


def _title(data: StopsData) -> str:
    bad = [drill for drill in data.drills if drill.verdict in (FAILED, UNTRIED)]
    if bad:
        names = tuple(dict.fromkeys(f"{drill.fault} {drill.unit}" for drill in bad))
        more = f" and at {len(names) - 2} more faults" if len(names) > 3 else ""
        return f"Not everything stops: {_first(bad)}{more}"
    timed = [drill for drill in data.drills if drill.worst_ms is not None]
    if not timed:
        return "No drill had anything to stop"
    longest = max(timed, key=lambda drill: drill.worst_ms or 0.0)
    holds = any(drill.verdict == HELD for drill in data.drills)
    what = "What is to stop does so" if holds else "Everything stops"
    return (
        f"{what} within its bound; the longest stop takes {digits(longest.worst_ms)} ms: "
        f"{longest.output} at {longest.fault} {longest.unit}"
    )


def _first(bad: list[DrillStops]) -> str:
    few = bad[:2] if len(bad) > 3 else bad
    return listed(tuple(f"{drill.output} at {drill.fault} {drill.unit}" for drill in few))


def _texts(data: StopsData) -> Iterator[str]:
    yield (
        f"Each drill {counted(data.points, 'time')}, its worst output: time from the last frame "
        "that counted until failsafe is in effect. Bars: the bound, term by term."
    )
    timed = [d for d in data.drills if d.worst_ms is not None and d.verdict != FAILED]
    for output in dict.fromkeys(drill.output for drill in timed):
        mine = [drill for drill in timed if drill.output == output]
        worst = max(mine, key=lambda drill: drill.worst_ms or 0.0)
        bound = "no bound" if worst.bound_ms is None else f"bound {digits(worst.bound_ms)} ms"
        yield (
            f"{output}: at most {digits(worst.worst_ms)} ms, at {worst.fault} {worst.unit} "
            f"({', '.join((bound, *_parts(worst)))})."
        )
    for verdict, words in _SAID.items():
        faults = tuple(f"{d.fault} {d.unit}" for d in data.drills if d.verdict == verdict)
        if faults:
            yield f"{words.capitalize()}: {listed(faults)}."


def _parts(drill: DrillStops) -> tuple[str, ...]:
    return tuple(f"{name} {digits(ms)}" for name, ms in drill.terms)


def _paint(canvas: Canvas, data: StopsData) -> None:
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
        if drill.verdict in (FAILED, UNTRIED):
            label.set(color=BAD, weight="bold")
    axes.set_ylim(len(data.drills) - 0.4, -0.6)
    axes.set_xlim(left=0)
    axes.set_xlabel(f"ms since the last frame{'' if canvas.is_narrow else ' that counted'}")
    axes.tick_params(axis="y", length=0)
    axes.grid(visible=True, axis="x")
    axes.set_axisbelow(True)
    handles = [Patch(label=name, **style) for name, style in styles.items()]
    canvas.figure.legend(
        handles=[*handles, *_legend()],
        loc="outside lower left",
        ncols=1 if canvas.is_narrow else 3,
    )


def _bars(axes: "Axes", row: int, drill: DrillStops, styles: dict[str, dict[str, Any]]) -> None:
    left = 0.0
    for name, ms in drill.terms if drill.worst_ms is not None else ():
        axes.barh(row, ms, left=left, height=0.62, **styles[name])
        left += ms
    if drill.verdict in _SAID and (drill.worst_ms is None or drill.verdict == FAILED):
        is_bad = drill.verdict in (FAILED, UNTRIED)
        axes.annotate(
            _SAID[drill.verdict],
            (0, row),
            xytext=(5, 0),
            textcoords="offset points",
            va="center",
            color=BAD if is_bad else INK,
            weight="bold" if is_bad else "normal",
            bbox={"boxstyle": "square,pad=0.15", "facecolor": GROUND, "edgecolor": "none"},
        )


def _marks(axes: "Axes", data: StopsData) -> None:
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


def _legend() -> list[Line2D]:
    labels = ("worst that can be reached", "drilled: median", "drilled: worst")
    return [
        Line2D([], [], label=label, **style) for label, style in zip(labels, _STYLES, strict=True)
    ]
