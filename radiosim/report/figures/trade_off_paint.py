"""The picture of nuisance trips against reaction time."""

from typing import TYPE_CHECKING

from radiosim.report.figures.canvas import BAD, GOOD, GROUND, INK, SERIES, Canvas, drawing
from radiosim.report.figures.scales import time_text
from radiosim.report.figures.trade_off import TradeOffData
from radiosim.results.document import Drawing
from radiosim.results.formats import duration_text

if TYPE_CHECKING:
    from matplotlib.axes import Axes

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
