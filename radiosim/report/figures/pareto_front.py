"""Figure: what do fresher values cost; age against air time and charge, the best marked."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import msgspec

from radiosim.counted import counted
from radiosim.report.figures.canvas import GROUND, INK, QUIET, SERIES, Canvas, drawing
from radiosim.report.figures.looks import log_ms
from radiosim.results.document import Drawing, Figure
from radiosim.results.formats import duration_text, fmt_percent, fmt_range, fmt_sig3
from radiosim.study.tune.tune_results import Tried, Tuned

if TYPE_CHECKING:
    from matplotlib.axes import Axes


WIDE, SPARE = 20.0, 1.3
"""How far apart ages are for a logarithmic axis, and the room beside them, as ratios."""
NAME = "pareto-front"
MOST_SHOWN = 250
"""Of points that are not on the Pareto front: more make a large file, not a clearer picture."""

Cost = tuple[float, float, float | None]
"""Age p99 of the stream with the oldest values, ms; share of the time on air; charge, mAh/h."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ParetoFrontData:
    """Costs of points."""

    pareto_front: tuple[Cost, ...]
    """None of which another point beats in all three."""
    holding: tuple[Cost, ...]
    """Others that hold every requirement; some of them where they are many."""
    broken: tuple[Cost, ...]
    """Some of those that miss one."""
    best: Cost | None
    now: Cost | None
    """The scenario as it stands."""


def pareto_front_data(found: Tuned) -> ParetoFrontData | None:
    """The numbers of a tuning; None if no point holds."""
    if not found.pareto_front:
        return None
    on_front = set(found.pareto_front)
    others = [point for point in found.points if point.values not in on_front]
    best = found.best
    return ParetoFrontData(
        pareto_front=_costs([found.at(values) for values in found.pareto_front]),
        holding=_costs(_some([point for point in others if point.ok])),
        broken=_costs(_some([point for point in others if not point.ok])),
        best=next(iter(_costs([] if best is None else [best])), None),
        now=next(iter(_costs([found.as_it_stands])), None),
    )


def _some(tried: Sequence[Tried]) -> Sequence[Tried]:
    return tried[:: max(1, -(-len(tried) // MOST_SHOWN))]


def _costs(tried: Sequence[Tried]) -> tuple[Cost, ...]:
    figures = (point.figures for point in tried)
    return tuple(
        (of.age_p99_ms, of.duty_cycle, of.charge_mah_per_hour)
        for of in figures
        if of is not None and of.age_p99_ms is not None
    )


def figure(found: Tuned) -> Figure | None:
    """The figure of a tuning; None if no point holds."""
    data = pareto_front_data(found)
    return None if data is None else figure_of(data)


def figure_of(data: ParetoFrontData) -> Figure:
    """The figure of costs."""
    title = _title(data)
    return Figure(
        name=NAME,
        title=title,
        text=_text(data),
        data=msgspec.to_builtins(data),
        draw=lambda: drawing_of(data, NAME, title),
    )


def _title(data: ParetoFrontData) -> str:
    ages_ms = [cost[0] for cost in data.pareto_front]
    duty_cycles = [cost[1] for cost in data.pareto_front]
    if len(data.pareto_front) == 1:
        age = duration_text(ages_ms[0])
        return f"One point is best in age, air time and charge: {age}"
    ages = fmt_range((min(ages_ms), max(ages_ms)), show=duration_text)
    return (
        f"An age p99 of {ages} can be had, for a duty cycle of "
        f"{fmt_percent(max(duty_cycles))} down to {fmt_percent(min(duty_cycles))}"
    )


def _text(data: ParetoFrontData) -> str:
    points = data.pareto_front
    parts = [
        f"Pareto front: {counted(len(points), 'point')} of those that hold, which no other beats "
        "in age, air time and charge at once. Age: p99 of the stream with the oldest values in "
        "its worst start, the wait for the next sample included."
    ]
    for name, cost in (
        ("Freshest", min(points)),
        ("Least air time", min(points, key=lambda cost: cost[1])),
        ("Recommended", data.best),
        ("As it stands", data.now),
    ):
        if cost is not None:
            parts.append(
                f"{name}: {duration_text(cost[0])}, duty cycle {fmt_percent(cost[1])}, "
                f"{_charge_text(cost[2])}."
            )
    return " ".join(parts)


_LOOKS: tuple[dict[str, Any], ...] = (
    {"marker": "x", "color": QUIET, "ms": 3.5, "label": "misses a requirement"},
    {"marker": "o", "color": SERIES[0], "mfc": "none", "ms": 4, "label": "holds"},
    {"marker": "D", "color": SERIES[1], "ms": 5, "label": "Pareto front"},
    {"marker": "s", "color": INK, "mfc": "none", "ms": 10, "label": "as it stands"},
    {"marker": "*", "color": INK, "mfc": GROUND, "ms": 13, "label": "recommended"},
)


def _charge_text(mah: float | None) -> str:
    return "charge not known" if mah is None else f"{fmt_sig3(mah)} mAh an hour"


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
    if min(shown) > 0 and max(shown) > WIDE * min(shown):
        # One that starves would press all others against the edge.
        panels[-1].set_xlim(min(shown) / SPARE, max(shown) * SPARE)
        log_ms(panels[-1])
    else:
        spare = 0.06 * (max(shown) - min(shown)) or 0.05 * max(shown)
        panels[-1].set_xlim(min(shown) - spare, max(shown) + spare)
    panels[-1].set_xlabel("age p99 of the stream with the oldest values, ms")
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
        there = [
            (cost[0], scale * value)
            for cost in costs
            if cost is not None and (value := cost[which]) is not None
        ]
        if there:
            axes.plot(*zip(*there, strict=True), ls="", **style)
