"""Figure: which timeout; nuisance trips against reaction time, and the feasible range between."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import msgspec

from radiosim.counted import counted
from radiosim.results.document import Drawing, Figure
from radiosim.results.formats import duration_text, fmt_percent, fmt_range, fmt_sig3
from radiosim.study.drill.results import Drilled

BAR_WIDTH, MOST_ROWS = 40, 10


@dataclass(frozen=True, slots=True, kw_only=True)
class TradeOffData:
    """The timeouts that were tried for one stream."""

    stream: str
    now_ms: float
    """The scenario's own."""
    timeout_ms: tuple[float, ...]
    nuisance_per_hour: tuple[float, ...]
    nuisance_per_hour_ci95: tuple[tuple[float, float] | None, ...]
    alive_share: tuple[float, ...]
    """Of the time."""
    worst_reaction_ms: tuple[float | None, ...]
    """None: no bound."""
    asked_per_hour: float
    asked_reaction_ms: float
    shortest_ms: float | None
    """The shortest that trips seldom enough."""
    longest_ms: float | None
    """The longest that reacts soon enough."""
    why_none: str
    """Why no timeout keeps both; empty: some do."""
    is_unshown: bool = False
    """Some timeouts may keep both, but it was not simulated for long enough."""


def trade_off_data(drilled: Drilled, stream: str) -> TradeOffData:
    """The numbers of one stream."""
    curve, feasible = drilled.trade_off[stream], drilled.feasible_range[stream]
    return TradeOffData(
        stream=stream,
        now_ms=drilled.timeout_ms[stream],
        timeout_ms=tuple(point.timeout_ms for point in curve),
        nuisance_per_hour=tuple(point.nuisance_per_hour for point in curve),
        nuisance_per_hour_ci95=tuple(point.nuisance_per_hour_ci95 for point in curve),
        alive_share=tuple(point.alive_share for point in curve),
        worst_reaction_ms=tuple(point.worst_reaction_ms for point in curve),
        asked_per_hour=drilled.asked.nuisance_per_hour,
        asked_reaction_ms=drilled.asked.reaction_ms[stream],
        shortest_ms=feasible.shortest_ms,
        longest_ms=feasible.longest_ms,
        why_none=feasible.why if feasible.is_empty else "",
        is_unshown=feasible.is_unshown,
    )


def figure(drilled: Drilled, stream: str) -> Figure:
    """The figure of one stream; its place among the others is part of its name."""
    return figure_of(trade_off_data(drilled, stream), list(drilled.trade_off).index(stream))


def figure_of(data: TradeOffData, number: int) -> Figure:
    """The figure of one curve; `number` tells its name from the others'."""
    name, title = f"trade-off-{number}", _title(data)
    return Figure(
        name=name,
        title=title,
        text=" ".join(_texts(data)),
        data=msgspec.to_builtins(data),
        draw=lambda: _drawing(data, name, title),
        letters=_letters(data),
    )


def _drawing(data: TradeOffData, name: str, title: str) -> Drawing:
    from radiosim.report.figures.trade_off_paint import drawing_of

    return drawing_of(data, name, title)


def shown_places(timeouts_ms: Sequence[float], now_ms: float) -> tuple[int, ...]:
    """Places of some timeouts from first to last, and of the one that the scenario has."""
    last = len(timeouts_ms) - 1
    step = max(1, math.ceil(last / (MOST_ROWS - 1)))
    return tuple(
        place
        for place, timeout_ms in enumerate(timeouts_ms)
        if place % step == 0 or place == last or timeout_ms == now_ms
    )


def _letters(data: TradeOffData) -> tuple[str, ...]:
    """Nuisance trips as bars; none where there were none."""
    most = max(data.nuisance_per_hour)
    if not most:
        return ()
    places = shown_places(data.timeout_ms, data.now_ms)
    rates = ((data.timeout_ms[k], data.nuisance_per_hour[k]) for k in places)
    return (
        "  timeout   nuisance trips",
        *(
            f"  {duration_text(ms):>8}  {'#' * round(BAR_WIDTH * rate / most) or '.'} "
            f"{fmt_sig3(rate)}/h{'  <- now' if ms == data.now_ms else ''}"
            for ms, rate in rates
        ),
    )


def _title(data: TradeOffData) -> str:
    if data.why_none and data.is_unshown:
        return f"{data.stream}: not shown that a timeout keeps both: {data.why_none}"
    if data.why_none:
        return f"{data.stream}: no timeout keeps both: {data.why_none}"
    ends = fmt_range((data.shortest_ms, data.longest_ms), show=duration_text)
    is_in = (data.shortest_ms or 0) <= data.now_ms <= (data.longest_ms or 0)
    now = f"the {duration_text(data.now_ms)} of now {'are' if is_in else 'are NOT'} among them"
    return f"{data.stream}: timeouts from {ends} keep both limits; {now}"


def _texts(data: TradeOffData) -> Iterator[str]:
    yield (
        f"Asked: under {counted(data.asked_per_hour, 'nuisance trip')} an hour, and a reaction "
        f"within {duration_text(data.asked_reaction_ms)}. Bars: 95 % intervals."
    )
    last = len(data.timeout_ms) - 1
    now = [k for k, ms in enumerate(data.timeout_ms) if ms == data.now_ms]
    for k in dict.fromkeys((0, *now, last)):
        interval, reaction_ms = data.nuisance_per_hour_ci95[k], data.worst_reaction_ms[k]
        sure = "" if interval is None else f" ({fmt_range(interval)})"
        reaction = (
            "a reaction has no bound"
            if reaction_ms is None
            else f"a reaction within {duration_text(reaction_ms)}"
        )
        mark = ", as now" if k in now else ""
        yield (
            f"{duration_text(data.timeout_ms[k])}{mark}: {fmt_sig3(data.nuisance_per_hour[k])} "
            f"nuisance trips an hour{sure}, {reaction}, alive {fmt_percent(data.alive_share[k])} "
            "of the time."
        )
