"""The picture of what arrives at which distance."""

from typing import TYPE_CHECKING

from radiosim.report.figures.canvas import BAD, DASHES, SERIES, Canvas, drawing
from radiosim.report.figures.fills import fill
from radiosim.report.figures.reach import LETTERS, BandOf, ReachData, has_trips
from radiosim.report.figures.scales import short, time_text
from radiosim.results.document import Drawing
from radiosim.study.range import Limit

if TYPE_CHECKING:
    from matplotlib.axes import Axes


def drawing_of(data: ReachData, name: str, title: str) -> Drawing:
    """The pictures."""
    return drawing(
        name,
        title,
        lambda canvas: _paint(canvas, data),
        height_px=60 + 170 * (3 if has_trips(data) else 2),
    )


def _paint(canvas: Canvas, data: ReachData) -> None:
    from matplotlib.ticker import FuncFormatter, LogLocator, NullFormatter

    axes = canvas.axes(3 if has_trips(data) else 2, sharex=True)
    for number, stream in enumerate(data.streams):
        _band(axes[0], data, number, stream.delivery_ratio, short(stream.name))
        _band(axes[1], data, number, stream.longest_gap_ms, "")
        if len(axes) > 2:
            _band(axes[2], data, number, stream.nuisance_per_hour, "")
    for each in axes:
        each.grid(visible=True)
        for limit in data.limits:
            _shade(each, data, limit)
    _letters(axes[0], data)
    axes[0].set_ylabel("values read")
    axes[0].set_ylim(-0.03, 1.03)
    axes[0].yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{100 * value:g} %"))
    axes[1].set_ylabel("longest gap")
    axes[1].set_yscale("log")
    axes[1].yaxis.set_major_locator(LogLocator(base=10, numticks=6))
    axes[1].yaxis.set_major_formatter(FuncFormatter(lambda value, _: time_text(value)))
    axes[1].yaxis.set_minor_formatter(NullFormatter())
    if len(axes) > 2:
        axes[2].set_ylabel("nuisance trips/h")
        axes[2].set_ylim(bottom=0)
    last = axes[-1]
    last.set_xscale("log")
    last.set_xlim(data.distance_m[0], data.distance_m[-1])
    last.xaxis.set_major_locator(LogLocator(base=10, numticks=8))
    last.xaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g} m"))
    last.xaxis.set_minor_formatter(NullFormatter())
    last.set_xlabel("distance")
    for each in axes:
        each.minorticks_off()
    canvas.legend(ncols=2 if canvas.is_narrow else 4)


def _band(axes: "Axes", data: ReachData, number: int, band: BandOf, label: str) -> None:
    """A band with its line; a stream that was never measured has none."""
    rows = [
        (metres, low, nominal, high)
        for metres, low, nominal, high in zip(
            data.distance_m, band.low, band.nominal, band.high, strict=True
        )
        if low is not None and nominal is not None and high is not None
    ]
    if not rows:
        return
    metres = [row[0] for row in rows]
    # Trips end where nothing arrives any more: a worse path may have fewer of them.
    low, high = [min(row[1:]) for row in rows], [max(row[1:]) for row in rows]
    nominal = [row[2] for row in rows]
    colour = SERIES[number % len(SERIES)]
    axes.fill_between(
        metres,
        low,
        high,
        **fill(number, 0.2),
    )
    dash, marker = DASHES[number % len(DASHES)], "os^D"[number % 4]
    axes.plot(metres, nominal, color=colour, ls=dash, marker=marker, ms=4, label=label or None)


def _shade(axes: "Axes", data: ReachData, limit: Limit) -> None:
    """Where a requirement stops holding, on every panel."""
    worse = max(limit.distance_m[0], data.distance_m[0])
    better = data.distance_m[-1] if limit.is_open[1] else limit.distance_m[1]
    if not limit.is_open[0] and better > worse:
        axes.axvspan(worse, better, facecolor=(BAD, 0.1), edgecolor=BAD, ls=(0, (2, 2)), lw=1)


def _letters(axes: "Axes", data: ReachData) -> None:
    for letter, limit in zip(LETTERS, data.limits, strict=False):
        if not limit.is_open[0]:
            axes.annotate(
                letter,
                (max(limit.distance_m[0], data.distance_m[0]), 0),
                xytext=(3, 3),
                textcoords="offset points",
                color=BAD,
                weight="bold",
            )
