"""Figure: what does less latency cost; latency against air time and charge, the best marked."""

from collections.abc import Sequence
from dataclasses import dataclass

import msgspec

from radiosim.counted import counted
from radiosim.results.document import Drawing, Figure
from radiosim.results.formats import duration_text, fmt_percent, fmt_range, fmt_sig3
from radiosim.study.tune.tune_results import Tried, Tuned

NAME = "pareto-front"
MOST_SHOWN = 250
"""Of points that are not on the Pareto front: more make a large file, not a clearer picture."""

Cost = tuple[float, float, float]
"""Latency p99 of the slowest stream, ms; share of the time on air; charge, mAh an hour."""


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
        (of.latency_p99_ms, of.duty_cycle, of.charge_mah_per_hour)
        for of in figures
        if of is not None and of.latency_p99_ms is not None
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
        draw=lambda: _drawing(data, title),
    )


def _drawing(data: ParetoFrontData, title: str) -> Drawing:
    from radiosim.report.figures import pareto_front_paint

    return pareto_front_paint.drawing_of(data, NAME, title)


def _title(data: ParetoFrontData) -> str:
    latencies_ms = [cost[0] for cost in data.pareto_front]
    duty_cycles = [cost[1] for cost in data.pareto_front]
    if len(data.pareto_front) == 1:
        latency = duration_text(latencies_ms[0])
        return f"One point is best in latency, air time and charge: {latency}"
    latencies = fmt_range((min(latencies_ms), max(latencies_ms)), show=duration_text)
    return (
        f"A latency p99 of {latencies} can be had, for a duty cycle of "
        f"{fmt_percent(max(duty_cycles))} down to {fmt_percent(min(duty_cycles))}"
    )


def _text(data: ParetoFrontData) -> str:
    points = data.pareto_front
    parts = [
        f"Pareto front: {counted(len(points), 'point')} of those that hold, which no other beats "
        "in latency, air time and charge at once. Latency: p99 of the slowest stream."
    ]
    for name, cost in (
        ("Least latency", min(points)),
        ("Least air time", min(points, key=lambda cost: cost[1])),
        ("Recommended", data.best),
        ("As it stands", data.now),
    ):
        if cost is not None:
            parts.append(
                f"{name}: {duration_text(cost[0])}, duty cycle {fmt_percent(cost[1])}, "
                f"{fmt_sig3(cost[2])} mAh an hour."
            )
    return " ".join(parts)
