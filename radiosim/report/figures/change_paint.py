"""The picture of what another layout does to a link."""

from radiosim.report.figures.canvas import INK, SERIES, Canvas, drawing
from radiosim.report.figures.change import ChangeData
from radiosim.report.figures.scales import short
from radiosim.results.document import Drawing

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
