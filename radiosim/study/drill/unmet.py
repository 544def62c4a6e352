"""What was asked of a drill beside the scenario, and is not kept by the timeouts that it has
now."""

from collections.abc import Iterator, Mapping, Sequence

from radiosim.study.drill.results import StreamBound, TradePoint, Unmet, WorstStop


def unmet_stops(
    reaction_ms: float | None,
    timeout_ms: Mapping[str, float],
    bound: Mapping[str, StreamBound],
    worst: Mapping[str, WorstStop],
) -> Iterator[Unmet]:
    """Streams whose longest stop, bounded or drilled, is past what was asked; None: nothing was.

    A stream whose outputs all hold their last value by the scenario's own wish has no stop.
    """
    if reaction_ms is None:
        return
    for name, of in bound.items():
        now_ms = timeout_ms.get(name)
        if of.output and (of.total_ms is None or of.total_ms > reaction_ms):
            yield Unmet(
                stream=name,
                figure="reaction_ms",
                asked=reaction_ms,
                found=of.total_ms,
                timeout_ms=now_ms,
                where=of.output,
                why=of.why,
            )
        elif name in worst and (worst[name].reaction_ms or 0.0) > reaction_ms:
            drilled = worst[name]
            yield Unmet(
                stream=name,
                figure="reaction_ms",
                asked=reaction_ms,
                found=drilled.reaction_ms,
                timeout_ms=now_ms,
                where=f"{drilled.output} at {drilled.fault} {drilled.unit}",
                why="",
                is_drilled=True,
            )


def unmet_trips(
    nuisance_per_hour: float | None,
    timeout_ms: Mapping[str, float],
    trade: Mapping[str, Sequence[TradePoint]],
) -> Iterator[Unmet]:
    """Streams that surely trip for nothing more often than was asked; None: nothing was."""
    if nuisance_per_hour is None:
        return
    for name, curve in trade.items():
        point = next(point for point in curve if point.timeout_ms == timeout_ms[name])
        interval = point.nuisance_per_hour_ci95
        if interval is not None and interval[0] > nuisance_per_hour:
            yield Unmet(
                stream=name,
                figure="nuisance_per_hour",
                asked=nuisance_per_hour,
                found=interval[0],
                timeout_ms=point.timeout_ms,
                where="",
                why="",
            )
