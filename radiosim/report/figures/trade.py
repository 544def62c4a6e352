"""Figure: which timeout; trips for nothing and time to a stop, and the room between."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from matplotlib.ticker import FixedLocator, FuncFormatter, MaxNLocator, NullFormatter

from radiosim.counted import counted
from radiosim.report.figures.canvas import BAD, GOOD, GROUND, INK, SERIES, Canvas, drawn
from radiosim.report.figures.drawn import Drawn
from radiosim.report.figures.scales import time_text
from radiosim.report.terminal.words import digits, limit, share
from radiosim.study.drill.results import Drilled

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_TICKS_MS = (50, 100, 200, 500, 1000, 2000)


@dataclass(frozen=True, slots=True, kw_only=True)
class TradeData:
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
    """The first that trips seldom enough."""
    longest_ms: float | None
    """The last that stops soon enough."""
    why_no_room: str
    """Empty where there is room."""
    is_unshown: bool = False
    """There may be room, but it was not simulated for long enough."""


def trade_data(drilled: Drilled, stream: str) -> TradeData:
    """The numbers of one stream."""
    curve, room = drilled.trade[stream], drilled.room[stream]
    return TradeData(
        stream=stream,
        now_ms=drilled.timeout_ms[stream],
        timeout_ms=tuple(point.timeout_ms for point in curve),
        nuisance_per_hour=tuple(point.nuisance_per_hour for point in curve),
        nuisance_per_hour_ci95=tuple(point.nuisance_per_hour_ci95 for point in curve),
        alive_share=tuple(point.alive_share for point in curve),
        worst_reaction_ms=tuple(point.worst_reaction_ms for point in curve),
        asked_per_hour=drilled.asked.nuisance_per_hour,
        asked_reaction_ms=drilled.asked.reaction_ms[stream],
        shortest_ms=room.shortest_ms,
        longest_ms=room.longest_ms,
        why_no_room="" if room.has_room else room.why,
        is_unshown=room.is_unshown,
    )


def draw(data: TradeData, number: int) -> Drawn:
    """The figure of one stream; `number` tells its name from the others'."""
    return drawn(
        f"trade-{number}",
        data,
        title=_title(data),
        text=" ".join(_texts(data)),
        paint=lambda canvas: _paint(canvas, data),
        height_px=380,
    )


def _title(data: TradeData) -> str:
    if data.why_no_room and data.is_unshown:
        return f"{data.stream}: not shown that a timeout keeps both: {data.why_no_room}"
    if data.why_no_room:
        return f"{data.stream}: no timeout keeps both: {data.why_no_room}"
    shortest, longest = limit(data.shortest_ms or 0), limit(data.longest_ms or 0)
    is_in = (data.shortest_ms or 0) <= data.now_ms <= (data.longest_ms or 0)
    now = f"the {limit(data.now_ms)} ms of now {'are' if is_in else 'are NOT'} among them"
    return f"{data.stream}: timeouts from {shortest} to {longest} ms keep both limits; {now}"


def _texts(data: TradeData) -> Iterator[str]:
    yield (
        f"Asked: under {counted(data.asked_per_hour, 'trip')} for nothing an hour, and a stop "
        f"within {limit(data.asked_reaction_ms)} ms. Bars: 95 % sure."
    )
    last = len(data.timeout_ms) - 1
    now = [k for k, ms in enumerate(data.timeout_ms) if ms == data.now_ms]
    for k in dict.fromkeys((0, *now, last)):
        interval, reaction_ms = data.nuisance_per_hour_ci95[k], data.worst_reaction_ms[k]
        sure = "" if interval is None else f" ({digits(interval[0])} to {digits(interval[1])})"
        stop = (
            "a stop has no bound"
            if reaction_ms is None
            else (f"a stop within {digits(reaction_ms)} ms")
        )
        mark = ", as now" if k in now else ""
        yield (
            f"{limit(data.timeout_ms[k])} ms{mark}: {digits(data.nuisance_per_hour[k])} trips an "
            f"hour{sure}, {stop}, alive {share(data.alive_share[k])} of the time."
        )


def _paint(canvas: Canvas, data: TradeData) -> None:
    trips, stops = canvas.axes(2, sharex=True)
    _trips(trips, data)
    _stops(stops, data)
    for axes in (trips, stops):
        _room(axes, data)
        axes.grid(visible=True)
        axes.set_axisbelow(True)
    trips.annotate(
        f"now {limit(data.now_ms)} ms",
        (data.now_ms, 0.5),
        xycoords=("data", "axes fraction"),
        xytext=(5, 0),
        textcoords="offset points",
        va="center",
        weight="bold",
        bbox={"boxstyle": "square,pad=0.15", "facecolor": GROUND, "edgecolor": "none"},
    )
    stops.set_xscale("log")
    stops.xaxis.set_major_locator(FixedLocator(_TICKS_MS))
    stops.xaxis.set_major_formatter(FuncFormatter(lambda value, _: time_text(value)))
    stops.xaxis.set_minor_formatter(NullFormatter())
    stops.set_xlabel("timeout")
    for axes in (trips, stops):
        axes.tick_params(which="minor", length=0)
    canvas.figure.legend(loc="outside lower left", ncols=2 if canvas.is_narrow else 4)


def _trips(axes: "Axes", data: TradeData) -> None:
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
        capsize=2.5, label="trips for nothing",
    )  # fmt: skip
    if len(known) < len(data.timeout_ms):
        axes.plot(data.timeout_ms, data.nuisance_per_hour, color=SERIES[0], lw=1.2)
    axes.axhline(data.asked_per_hour, color=BAD, ls=(0, (5, 2)), lw=1.2, label="asked, at most")
    axes.set_ylabel("trips an hour")
    highest = max([data.asked_per_hour, *(high for _, _, (_, high) in known)])
    if highest > 20 * data.asked_per_hour > 0:
        axes.set_yscale("symlog", linthresh=data.asked_per_hour)
    else:
        axes.yaxis.set_major_locator(MaxNLocator(4))
    axes.set_ylim(-0.04 * data.asked_per_hour, highest * 1.15)
    axes.yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))


def _stops(axes: "Axes", data: TradeData) -> None:
    known = [
        (ms, stop)
        for ms, stop in zip(data.timeout_ms, data.worst_reaction_ms, strict=True)
        if stop is not None
    ]
    axes.set_ylabel("longest stop")
    axes.set_yscale("log")
    axes.axhline(data.asked_reaction_ms, color=BAD, ls=(0, (5, 2)), lw=1.2)
    axes.yaxis.set_major_locator(FixedLocator(_TICKS_MS))
    axes.yaxis.set_major_formatter(FuncFormatter(lambda value, _: time_text(value)))
    axes.yaxis.set_minor_formatter(NullFormatter())
    if known:
        axes.plot(
            *zip(*known, strict=True), color=SERIES[1], marker="s", ms=4, lw=1.2,
            ls=(0, (5, 2)), label="stop, at most",
        )  # fmt: skip
        return
    axes.set_ylim(40, 3000)
    axes.annotate(
        "no timeout has a bound", (0.5, 0.25), xycoords="axes fraction", ha="center", color=BAD,
        weight="bold",
    )  # fmt: skip


def _room(axes: "Axes", data: TradeData) -> None:
    axes.axvline(data.now_ms, color=INK, ls=(0, (1, 1.5)), lw=1.6)
    if not data.why_no_room:
        label = "room" if axes.get_subplotspec().is_first_row() else None  # type: ignore[union-attr]
        axes.axvspan(
            data.shortest_ms or 0, data.longest_ms or 0, facecolor=(GOOD, 0.2), edgecolor=INK,
            hatch="//", lw=0, label=label, zorder=0,
        )  # fmt: skip
