"""Figure: what does less delay cost; delay against air time and charge, the best marked."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from radiosim.counted import counted
from radiosim.report.figures.canvas import GROUND, INK, QUIET, SERIES, Canvas, drawn
from radiosim.report.figures.drawn import Drawn
from radiosim.report.terminal.words import digits
from radiosim.study.tune.rank import Tried
from radiosim.study.tune.tuned import Tuned

if TYPE_CHECKING:
    from matplotlib.axes import Axes

MOST_SHOWN = 250
"""Of points that are not on the front: more make a large file, not a clearer picture."""

_LOOKS: tuple[dict[str, Any], ...] = (
    {"marker": "x", "color": QUIET, "ms": 3.5, "label": "misses a requirement"},
    {"marker": "o", "color": SERIES[0], "mfc": "none", "ms": 4, "label": "holds"},
    {"marker": "D", "color": SERIES[1], "ms": 5, "label": "front"},
    {"marker": "s", "color": INK, "mfc": "none", "ms": 10, "label": "as it stands"},
    {"marker": "*", "color": INK, "mfc": GROUND, "ms": 13, "label": "recommended"},
)

Cost = tuple[float, float, float]
"""Delay that 99 of 100 values of the slowest stream keep, ms; share of the air; mAh an hour."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FrontData:
    """Costs of points."""

    front: tuple[Cost, ...]
    """None of which another point beats in all three."""
    holding: tuple[Cost, ...]
    """Others that hold every requirement; some of them where they are many."""
    broken: tuple[Cost, ...]
    """Some of those that miss one."""
    best: Cost | None
    now: Cost | None
    """The scenario as it stands."""


def front_data(found: Tuned) -> FrontData | None:
    """The numbers of a tuning; None if no point holds."""
    if not found.front:
        return None
    on_front = {id(it) for it in found.front}
    others = [it for it in found.points if id(it) not in on_front]
    return FrontData(
        front=_costs(found.front),
        holding=_costs(_some([it for it in others if it.ok])),
        broken=_costs(_some([it for it in others if not it.ok])),
        best=next(iter(_costs([found.best] if found.best is not None else [])), None),
        now=next(iter(_costs([found.as_it_stands])), None),
    )


def _some(tried: Sequence[Tried]) -> Sequence[Tried]:
    return tried[:: max(1, -(-len(tried) // MOST_SHOWN))]


def _costs(tried: Sequence[Tried]) -> tuple[Cost, ...]:
    return tuple(
        (it.row["latency_p99_ms"], it.row["duty_cycle"], it.row["charge_mah_per_hour"])
        for it in tried
        if it.margin is not None and it.row["latency_p99_ms"] is not None
    )


def draw(data: FrontData) -> Drawn:
    """The figure."""
    return drawn(
        "front",
        data,
        title=_title(data),
        text=_text(data),
        paint=lambda canvas: _paint(canvas, data),
        height_px=460,
    )


def _title(data: FrontData) -> str:
    delays, airs = [cost[0] for cost in data.front], [cost[1] for cost in data.front]
    if len(data.front) == 1:
        return f"One point is best in delay, air time and charge: {digits(delays[0])} ms"
    return (
        f"Delays from {digits(min(delays))} to {digits(max(delays))} ms can be had, for "
        f"{digits(100 * max(airs))} down to {digits(100 * min(airs))} % of the air"
    )


def _text(data: FrontData) -> str:
    parts = [
        f"{counted(len(data.front), 'point')} that no other beats in delay, air time and charge "
        "at once, of those that hold (the front). Delay: 99 of 100 values of the slowest "
        "stream are no later."
    ]
    for name, cost in (
        ("Least delay", min(data.front)),
        ("Least air time", min(data.front, key=lambda cost: cost[1])),
        ("Recommended", data.best),
        ("As it stands", data.now),
    ):
        if cost is not None:
            parts.append(
                f"{name}: {digits(cost[0])} ms, {digits(100 * cost[1])} % of the air, "
                f"{digits(cost[2])} mAh an hour."
            )
    return " ".join(parts)


def _paint(canvas: Canvas, data: FrontData) -> None:
    panels = canvas.axes(2, sharex=True)
    for number, (axes, label) in enumerate(
        zip(panels, ("share of the air, %", "charge, mAh an hour"), strict=True), start=1
    ):
        _panel(axes, data, number)
        axes.set_ylabel(label)
        axes.grid(visible=True)
        axes.set_axisbelow(True)
    shown = [cost[0] for cost in (*data.front, *data.holding, data.best, data.now) if cost]
    room = 0.06 * (max(shown) - min(shown)) or 0.05 * max(shown)
    panels[-1].set_xlim(min(shown) - room, max(shown) + room)
    panels[-1].set_xlabel("delay of 99 of 100 values, ms")
    canvas.figure.legend(
        *panels[0].get_legend_handles_labels(),
        loc="outside lower left",
        ncols=2 if canvas.is_narrow else 5,
    )


def _panel(axes: "Axes", data: FrontData, which: int) -> None:
    scale = 100.0 if which == 1 else 1.0
    for costs, style in zip(
        (data.broken, data.holding, data.front, (data.now,), (data.best,)), _LOOKS, strict=True
    ):
        there = [cost for cost in costs if cost is not None]
        if there:
            x, y = [cost[0] for cost in there], [scale * cost[which] for cost in there]
            axes.plot(x, y, ls="", **style)
