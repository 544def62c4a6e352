"""The picture of what less latency costs."""

from typing import TYPE_CHECKING, Any

from radiosim.report.figures.canvas import GROUND, INK, QUIET, SERIES, Canvas, drawing
from radiosim.report.figures.pareto_front import ParetoFrontData
from radiosim.results.document import Drawing

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_LOOKS: tuple[dict[str, Any], ...] = (
    {"marker": "x", "color": QUIET, "ms": 3.5, "label": "misses a requirement"},
    {"marker": "o", "color": SERIES[0], "mfc": "none", "ms": 4, "label": "holds"},
    {"marker": "D", "color": SERIES[1], "ms": 5, "label": "Pareto front"},
    {"marker": "s", "color": INK, "mfc": "none", "ms": 10, "label": "as it stands"},
    {"marker": "*", "color": INK, "mfc": GROUND, "ms": 13, "label": "recommended"},
)


def drawing_of(data: ParetoFrontData, name: str, title: str) -> Drawing:
    """The pictures."""
    return drawing(name, title, lambda canvas: _paint(canvas, data), height_px=460)


def _paint(canvas: Canvas, data: ParetoFrontData) -> None:
    panels = canvas.axes(2, sharex=True)
    for number, (axes, label) in enumerate(
        zip(panels, ("duty cycle, %", "charge, mAh an hour"), strict=True), start=1
    ):
        _panel(axes, data, number)
        axes.set_ylabel(label)
        axes.grid(visible=True)
        axes.set_axisbelow(True)
    shown = [cost[0] for cost in (*data.pareto_front, *data.holding, data.best, data.now) if cost]
    spare = 0.06 * (max(shown) - min(shown)) or 0.05 * max(shown)
    panels[-1].set_xlim(min(shown) - spare, max(shown) + spare)
    panels[-1].set_xlabel("latency p99 of the slowest stream, ms")
    canvas.legend(
        *panels[0].get_legend_handles_labels(),
        ncols=2 if canvas.is_narrow else 5,
    )


def _panel(axes: "Axes", data: ParetoFrontData, which: int) -> None:
    scale = 100.0 if which == 1 else 1.0
    for costs, style in zip(
        (data.broken, data.holding, data.pareto_front, (data.now,), (data.best,)),
        _LOOKS,
        strict=True,
    ):
        there = [cost for cost in costs if cost is not None]
        if there:
            x, y = [cost[0] for cost in there], [scale * cost[which] for cost in there]
            axes.plot(x, y, ls="", **style)
