"""Figure: what another layout does to a link; paired differences with their intervals."""

from dataclasses import dataclass

import msgspec

from radiosim.counted import counted
from radiosim.report.figures.canvas import INK, SERIES, Canvas, drawing
from radiosim.report.figures.looks import short
from radiosim.report.link_change import SHOWN, is_change, shown_of, streams_of
from radiosim.results.document import Drawing, Figure
from radiosim.results.formats import fmt_sig3
from radiosim.study.layout_change import LayoutChange

_SHOW = {shown.figure: shown.show for shown in SHOWN}


@dataclass(frozen=True, slots=True, kw_only=True)
class FigureChange:
    """One figure of one stream."""

    stream: str
    figure: str
    """Its path below the stream."""
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
                    figure=shown.figure,
                    words=shown.words,
                    old=change.old,
                    new=change.new,
                    percent=scale * change.difference,
                    percent_ci95=(scale * low, scale * high),
                    is_told_apart=is_change(change),
                )
            )
    return ChangeData(starts=found.starts, figures=tuple(figures)) if figures else None


def figure(found: LayoutChange) -> Figure | None:
    """The figure of a change; None if nothing can be compared."""
    data = change_data(found)
    return None if data is None else figure_of(data)


def figure_of(data: ChangeData) -> Figure:
    """The figure of numbers before and after."""
    title = _title(data)
    return Figure(
        name="change",
        title=title,
        text=_text(data),
        data=msgspec.to_builtins(data),
        draw=lambda: drawing_of(data, title),
    )


def _title(data: ChangeData) -> str:
    told = [row for row in data.figures if row.is_told_apart]
    if not told:
        return "These starts tell nothing apart between the two layouts"
    most = max(told, key=lambda row: abs(row.percent))
    return (
        f"{len(told)} of {len(data.figures)} figures change; most: {most.stream}'s "
        f"{most.words} by {_signed(most.percent)}"
    )


def _signed(percent: float) -> str:
    return f"{'+' if percent > 0 else '−' if percent < 0 else ''}{fmt_sig3(abs(percent))} %"


def _value(row: FigureChange, value: float) -> str:
    return _SHOW[row.figure](value)


def _text(data: ChangeData) -> str:
    parts = [
        f"{row.stream}, {row.words}: {_value(row, row.old)} before, {_value(row, row.new)} after, "
        f"{_signed(row.percent)} ({_signed(row.percent_ci95[0])} to {_signed(row.percent_ci95[1])})"
        for row in data.figures
        if row.is_told_apart
    ]
    alike = len(data.figures) - len(parts)
    parts += (
        [f"{alike} {'other is' if alike == 1 else 'others are'} not told apart"] if alike else []
    )
    return (
        f"Both layouts in the same {counted(data.starts, 'start')}, on the same draws; bars: 95 % "
        f"intervals. {'; '.join(parts)}."
    )


MOST_PERCENT = 1000.0
"""A figure that grows by more stands in words, not drawn to scale."""


def drawing_of(data: ChangeData, title: str) -> Drawing:
    """The pictures."""
    rows = len(data.figures)
    return drawing(
        "change",
        title,
        lambda canvas: _paint(canvas, data),
        height_px=100 + 40 * rows,
        narrow_height_px=120 + 42 * rows,
    )


def _paint(canvas: Canvas, data: ChangeData) -> None:
    from matplotlib.lines import Line2D

    (axes,) = canvas.axes()
    streams = tuple(dict.fromkeys(row.stream for row in data.figures))
    for place, row in enumerate(data.figures):
        colour = SERIES[streams.index(row.stream) % len(SERIES)]
        axes.plot(row.percent_ci95, (place, place), color=colour, lw=2, marker="|", ms=8)
        face = colour if row.is_told_apart else "none"
        axes.plot(row.percent, place, color=colour, marker="o", ms=7, mfc=face, zorder=4)
        axes.annotate(
            f"{short(row.stream)}: {row.words}", (0, place), xycoords=("axes fraction", "data"),
            xytext=(2, 7), textcoords="offset points", va="bottom", zorder=5,
            weight="bold" if row.is_told_apart else "normal",
        )  # fmt: skip
    axes.axvline(0, color=INK, lw=1)
    low = min(row.percent_ci95[0] for row in data.figures)
    high = max(row.percent_ci95[1] for row in data.figures)
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
    canvas.legend(
        handles=[
            Line2D([], [], ls="", marker="o", color=INK, mfc=face, label=label)
            for label, face in labels
        ],
        ncols=1 if canvas.is_narrow else 2,
    )
