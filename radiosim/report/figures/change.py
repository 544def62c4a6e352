"""Figure: what another layout does to a link; paired differences with their intervals."""

from dataclasses import dataclass

from matplotlib.lines import Line2D

from radiosim.counted import counted
from radiosim.report.figures.canvas import INK, SERIES, Canvas, drawn
from radiosim.report.figures.drawn import Drawn
from radiosim.report.figures.scales import short
from radiosim.report.layouts.change import is_change, shown_of, streams_of
from radiosim.report.terminal.words import digits
from radiosim.study.layout_change import LayoutChange

MOST_PERCENT = 1000.0
"""A figure that grows by more is told in words, not drawn to scale."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FigureChange:
    """One figure of one stream."""

    stream: str
    words: str
    old: float
    new: float
    percent: float
    """Difference, of what it was."""
    percent_ci95: tuple[float, float]
    is_told_apart: bool
    """0 lies outside the interval."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeData:
    """Figures that were not 0 before."""

    starts: int
    figures: tuple[FigureChange, ...]


def change_data(found: LayoutChange) -> ChangeData | None:
    """The numbers of a change; None if nothing can be compared."""
    figures = []
    for stream in streams_of(found):
        for shown, change in shown_of(found, stream):
            if not change.old or change.difference_ci95 is None:
                continue
            scale = 100.0 / abs(change.old)
            low, high = change.difference_ci95
            figures.append(
                FigureChange(
                    stream=stream,
                    words=shown.words,
                    old=change.old * shown.times,
                    new=change.new * shown.times,
                    percent=scale * change.difference,
                    percent_ci95=(scale * low, scale * high),
                    is_told_apart=is_change(change),
                )
            )
    return ChangeData(starts=found.starts, figures=tuple(figures)) if figures else None


def draw(data: ChangeData) -> Drawn:
    """The figure."""
    rows = len(data.figures)
    return drawn(
        "change",
        data,
        title=_title(data),
        text=_text(data),
        paint=lambda canvas: _paint(canvas, data),
        height_px=100 + 40 * rows,
        narrow_height_px=120 + 42 * rows,
    )


def _title(data: ChangeData) -> str:
    told = [it for it in data.figures if it.is_told_apart]
    if not told:
        return "These starts tell nothing apart between the two layouts"
    most = max(told, key=lambda it: abs(it.percent))
    return (
        f"{len(told)} of {len(data.figures)} figures change; most: {most.stream}'s "
        f"{most.words} by {_signed(most.percent)}"
    )


def _signed(percent: float) -> str:
    return f"{'+' if percent > 0 else '−' if percent < 0 else ''}{digits(abs(percent))} %"


def _text(data: ChangeData) -> str:
    parts = [
        f"{it.stream}, {it.words}: {digits(it.old)} before, {digits(it.new)} after, "
        f"{_signed(it.percent)} ({_signed(it.percent_ci95[0])} to {_signed(it.percent_ci95[1])})"
        for it in data.figures
        if it.is_told_apart
    ]
    alike = len(data.figures) - len(parts)
    parts += (
        [f"{alike} {'other is' if alike == 1 else 'others are'} not told apart"] if alike else []
    )
    return (
        f"Both layouts in the same {counted(data.starts, 'start')}, on the same draws; bars: 95 % "
        f"sure. {'; '.join(parts)}."
    )


def _paint(canvas: Canvas, data: ChangeData) -> None:
    (axes,) = canvas.axes()
    streams = tuple(dict.fromkeys(it.stream for it in data.figures))
    for row, it in enumerate(data.figures):
        colour = SERIES[streams.index(it.stream) % len(SERIES)]
        axes.plot(it.percent_ci95, (row, row), color=colour, lw=2, marker="|", ms=8)
        face = colour if it.is_told_apart else "none"
        axes.plot(it.percent, row, color=colour, marker="o", ms=7, mfc=face, zorder=4)
        axes.annotate(
            f"{short(it.stream)}: {it.words}", (0, row), xycoords=("axes fraction", "data"),
            xytext=(2, 7), textcoords="offset points", va="bottom", zorder=5,
            weight="bold" if it.is_told_apart else "normal",
        )  # fmt: skip
    axes.axvline(0, color=INK, lw=1)
    low = min(it.percent_ci95[0] for it in data.figures)
    high = max(it.percent_ci95[1] for it in data.figures)
    room = 0.08 * max(high - low, 0.1)
    axes.set_xlim(max(low - room, -MOST_PERCENT), min(high + room, MOST_PERCENT))
    axes.set_ylim(len(data.figures) - 0.5, -0.9)
    axes.set_yticks([])
    axes.spines["left"].set_visible(False)
    axes.grid(visible=True, axis="x")
    axes.set_axisbelow(True)
    axes.set_xlabel("difference, % of what it was before")
    axes.xaxis.set_major_formatter(lambda value, _: f"{value:g} %")
    labels = (("changed: 0 is not in its bar", INK), ("not told apart", "none"))
    canvas.figure.legend(
        handles=[
            Line2D([], [], ls="", marker="o", color=INK, mfc=face, label=label)
            for label, face in labels
        ],
        loc="outside lower left",
        ncols=1 if canvas.is_narrow else 2,
    )
