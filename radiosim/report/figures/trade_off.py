"""Figure: which timeout; nuisance trips against reaction time, and the feasible range between."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import msgspec

from radiosim.counted import counted
from radiosim.report.figures.canvas import BAD, GOOD, GROUND, INK, SERIES, Canvas, drawing
from radiosim.report.figures.looks import time_text
from radiosim.results.document import Drawing, Figure
from radiosim.results.formats import duration_text, fmt_percent, fmt_range, fmt_sig3
from radiosim.study.drill.results import Drilled, FeasibleRange, TradeOffPoint

if TYPE_CHECKING:
    from matplotlib.axes import Axes


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
    return data_of(
        stream,
        drilled.timeout_ms[stream],
        drilled.trade_off[stream],
        drilled.feasible_range[stream],
        nuisance_per_hour=drilled.asked.nuisance_per_hour,
        reaction_ms=drilled.asked.reaction_ms[stream],
    )


def data_of(
    stream: str,
    now_ms: float,
    curve: Sequence[TradeOffPoint],
    feasible: FeasibleRange,
    *,
    nuisance_per_hour: float,
    reaction_ms: float,
) -> TradeOffData:
    """The numbers of a stream's timeouts; `nuisance_per_hour`, `reaction_ms`: at most that."""
    return TradeOffData(
        stream=stream,
        now_ms=now_ms,
        timeout_ms=tuple(point.timeout_ms for point in curve),
        nuisance_per_hour=tuple(point.nuisance_per_hour for point in curve),
        nuisance_per_hour_ci95=tuple(point.nuisance_per_hour_ci95 for point in curve),
        alive_share=tuple(point.alive_share for point in curve),
        worst_reaction_ms=tuple(point.worst_reaction_ms for point in curve),
        asked_per_hour=nuisance_per_hour,
        asked_reaction_ms=reaction_ms,
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
        draw=lambda: drawing_of(data, name, title),
        letters=_letters(data),
    )


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


_TICKS_MS = (50, 100, 200, 500, 1000, 2000)


def drawing_of(data: TradeOffData, name: str, title: str) -> Drawing:
    """The pictures."""
    return drawing(name, title, lambda canvas: _paint(canvas, data), height_px=380)


def _paint(canvas: Canvas, data: TradeOffData) -> None:
    from matplotlib.ticker import FixedLocator, FuncFormatter, NullFormatter

    trips, reactions = canvas.axes(2, sharex=True)
    _trips(trips, data)
    _reactions(reactions, data)
    for axes in (trips, reactions):
        _feasible(axes, data)
        axes.grid(visible=True)
        axes.set_axisbelow(True)
    trips.annotate(
        f"now {duration_text(data.now_ms)}",
        (data.now_ms, 0.5),
        xycoords=("data", "axes fraction"),
        xytext=(5, 0),
        textcoords="offset points",
        va="center",
        weight="bold",
        bbox={"boxstyle": "square,pad=0.15", "facecolor": GROUND, "edgecolor": "none"},
    )
    reactions.set_xscale("log")
    reactions.xaxis.set_major_locator(FixedLocator(_TICKS_MS))
    reactions.xaxis.set_major_formatter(FuncFormatter(lambda value, _: time_text(value)))
    reactions.xaxis.set_minor_formatter(NullFormatter())
    reactions.set_xlabel("timeout")
    for axes in (trips, reactions):
        axes.tick_params(which="minor", length=0)
    canvas.legend(ncols=2 if canvas.is_narrow else 4)


def _trips(axes: "Axes", data: TradeOffData) -> None:
    from matplotlib.ticker import FuncFormatter, MaxNLocator

    known = [
        (ms, rate, interval)
        for ms, rate, interval in zip(
            data.timeout_ms, data.nuisance_per_hour, data.nuisance_per_hour_ci95, strict=True
        )
        if interval is not None
    ]
    rates = [rate for _, rate, _ in known]
    around = [
        [max(0.0, rate - low) for _, rate, (low, _) in known],
        [max(0.0, high - rate) for _, rate, (_, high) in known],
    ]
    axes.errorbar(
        [ms for ms, _, _ in known], rates, around, color=SERIES[0], marker="o", ms=4, lw=1.2,
        capsize=2.5, label="nuisance trips",
    )  # fmt: skip
    if len(known) < len(data.timeout_ms):
        axes.plot(data.timeout_ms, data.nuisance_per_hour, color=SERIES[0], lw=1.2)
    axes.axhline(data.asked_per_hour, color=BAD, ls=(0, (5, 2)), lw=1.2, label="asked, at most")
    axes.set_ylabel("nuisance trips/h")
    highest = max([data.asked_per_hour, *(high for _, _, (_, high) in known)])
    if highest > 20 * data.asked_per_hour > 0:
        axes.set_yscale("symlog", linthresh=data.asked_per_hour)
    else:
        axes.yaxis.set_major_locator(MaxNLocator(4))
    axes.set_ylim(-0.04 * data.asked_per_hour, highest * 1.15)
    axes.yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))


def _reactions(axes: "Axes", data: TradeOffData) -> None:
    from matplotlib.ticker import FixedLocator, FuncFormatter, NullFormatter

    known = [
        (ms, reaction)
        for ms, reaction in zip(data.timeout_ms, data.worst_reaction_ms, strict=True)
        if reaction is not None
    ]
    axes.set_ylabel("longest reaction")
    axes.set_yscale("log")
    axes.axhline(data.asked_reaction_ms, color=BAD, ls=(0, (5, 2)), lw=1.2)
    axes.yaxis.set_major_locator(FixedLocator(_TICKS_MS))
    axes.yaxis.set_major_formatter(FuncFormatter(lambda value, _: time_text(value)))
    axes.yaxis.set_minor_formatter(NullFormatter())
    if known:
        axes.plot(
            *zip(*known, strict=True), color=SERIES[1], marker="s", ms=4, lw=1.2,
            ls=(0, (5, 2)), label="reaction, at most",
        )  # fmt: skip
        return
    axes.set_ylim(40, 3000)
    axes.annotate(
        "no timeout has a bound", (0.5, 0.25), xycoords="axes fraction", ha="center", color=BAD,
        weight="bold",
    )  # fmt: skip


def _feasible(axes: "Axes", data: TradeOffData) -> None:
    axes.axvline(data.now_ms, color=INK, ls=(0, (1, 1.5)), lw=1.6)
    if not data.why_none:
        label = "feasible range" if axes.get_subplotspec().is_first_row() else None  # type: ignore[union-attr]
        axes.axvspan(
            data.shortest_ms or 0, data.longest_ms or 0, facecolor=(GOOD, 0.2), edgecolor=INK,
            hatch="//", lw=0, label=label, zorder=0,
        )  # fmt: skip
