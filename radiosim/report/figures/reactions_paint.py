"""The picture of every drill's reactions against its bound."""

from typing import TYPE_CHECKING, Any

from radiosim.report.figures.canvas import BAD, GROUND, INK, Canvas, drawing
from radiosim.report.figures.fills import fill
from radiosim.report.figures.reactions import WORDS, DrillReactions, ReactionsData
from radiosim.report.figures.scales import LONGEST_NAME, short
from radiosim.results.document import Drawing
from radiosim.study.drill.results import FAILS

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.lines import Line2D

NARROW_LETTERS = 9
ROW_PX = 24
HEAD_PX = 150


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
