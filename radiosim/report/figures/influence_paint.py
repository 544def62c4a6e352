"""The picture of which settings matter."""

from radiosim.report.figures.canvas import Canvas, drawing
from radiosim.report.figures.fills import fill
from radiosim.report.figures.influence import InfluenceData, short_key
from radiosim.results.document import Drawing
from radiosim.results.formats import printable


def drawing_of(data: InfluenceData, name: str, title: str) -> Drawing:
    """The pictures."""
    rows = len(data.settings) + 1
    return drawing(
        name,
        title,
        lambda canvas: _paint(canvas, data),
        height_px=100 + 42 * rows,
        narrow_height_px=110 + 44 * rows,
    )


def _paint(canvas: Canvas, data: InfluenceData) -> None:
    (axes,) = canvas.axes()
    names = [*map(short_key, data.settings), "the rest"]
    has_total = any(total is not None for total in data.total)
    if has_total:
        axes.barh(
            range(len(data.total)), [total or 0.0 for total in data.total], height=0.4,
            label="total", **fill(1, 0.25),
        )  # fmt: skip
    values = [*(max(0.0, first) for first in data.first_order), data.rest]
    height = 0.2 if has_total else 0.4
    axes.barh(range(len(values)), values, height=height, label="first-order", **fill(0, 0.8))
    for row, name in enumerate(names):
        axes.annotate(
            printable(name), (0, row - 0.2), xytext=(2, 1), textcoords="offset points", va="bottom",
        )  # fmt: skip
    axes.set_yticks([])
    axes.set_ylim(len(names) - 0.5, -0.8)
    axes.set_xlim(0, 1)
    axes.xaxis.set_major_formatter(lambda value, _: f"{100 * value:g} %")
    axes.set_xlabel("share of the margin's variance")
    canvas.legend(ncols=2)
