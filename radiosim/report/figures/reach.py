"""Figure: what arrives at which distance, the longest gap and nuisance trips, as bands."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import msgspec

from radiosim.report.figures.canvas import BAD, DASHES, SERIES, Canvas, drawing
from radiosim.report.figures.looks import fill, short, time_text
from radiosim.results.document import Drawing, Figure
from radiosim.results.formats import duration_text, fmt_sig3
from radiosim.study.range import LEAST, UNKNOWN_DB, Band, Limit, Reach, rounded_m

if TYPE_CHECKING:
    from matplotlib.axes import Axes


NAME = "range"
LETTERS = "ABCDEFGH"


@dataclass(frozen=True, slots=True, kw_only=True)
class BandOf:
    """One figure over distance: with 6 dB less, as described, with 6 dB more; None: nothing."""

    low: tuple[float | None, ...]
    nominal: tuple[float | None, ...]
    high: tuple[float | None, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class StreamReach:
    """One stream over distance."""

    name: str
    delivery_ratio: BandOf
    longest_gap_ms: BandOf
    nuisance_per_hour: BandOf
    """Nothing without a failsafe."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReachData:
    """All streams, at the same distances."""

    distance_m: tuple[float, ...]
    streams: tuple[StreamReach, ...]
    limits: tuple[Limit, ...]


def reach_data(found: Reach) -> ReachData:
    """The numbers of a range."""
    first = next(iter(found.streams.values()))
    return ReachData(
        distance_m=tuple(point.distance_m for point in first),
        streams=tuple(
            StreamReach(
                name=name,
                delivery_ratio=_bands([point.delivery_ratio for point in points]),
                longest_gap_ms=_bands([point.longest_gap_ms for point in points]),
                nuisance_per_hour=_bands([point.nuisance_per_hour for point in points]),
            )
            for name, points in found.streams.items()
        ),
        limits=found.limits,
    )


def _bands(bands: Sequence[Band]) -> BandOf:
    return BandOf(
        low=tuple(band.low for band in bands),
        nominal=tuple(band.nominal for band in bands),
        high=tuple(band.high for band in bands),
    )


def figure(found: Reach) -> Figure:
    """The figure of a range."""
    return figure_of(reach_data(found))


def figure_of(data: ReachData) -> Figure:
    """The figure of numbers over distance."""
    title = _title(data)
    return Figure(
        name=NAME,
        title=title,
        text=_text(data),
        data=msgspec.to_builtins(data),
        draw=lambda: drawing_of(data, NAME, title),
    )


def has_trips(data: ReachData) -> bool:
    """Whether any stream trips without a fault."""
    return any(any(stream.nuisance_per_hour.nominal) for stream in data.streams)


def _title(data: ReachData) -> str:
    ends = [(_half_lost_m(data, s.delivery_ratio.low), s.name) for s in data.streams]
    lost = [(metres, name) for metres, name in ends if metres is not None]
    told = [limit for limit in data.limits if not limit.is_open[0]]
    if told:
        first = min(told, key=lambda limit: limit.distance_m)
        return f"A requirement on {_whose(first)} {_where(first)}"
    if lost:
        metres, name = min(lost)
        return f"{name} may lose half of its values from about {fmt_sig3(rounded_m(metres))} m on"
    farthest = fmt_sig3(rounded_m(data.distance_m[-1]))
    return f"Every stream gets over half of its values through to {farthest} m"


def _whose(limit: Limit) -> str:
    """What a requirement is about: the stream or output that its figure names."""
    steps = limit.requirement.split(" ")[0].split(".")
    return steps[1] if len(steps) > 2 else steps[0]


def _where(limit: Limit) -> str:
    worse, better = (f"{metres:g}" for metres in limit.distance_m)
    if limit.distance_m[1] == 0:
        return "holds at no distance"
    if limit.distance_m[0] == 0:
        return f"may hold nowhere, or up to {better} m"
    if limit.is_open[1]:
        return f"stops holding from {worse} m on, or far beyond {better} m"
    return f"stops holding somewhere from {worse} to {better} m"


def _half_lost_m(data: ReachData, shares: Sequence[float | None]) -> float | None:
    """The first distance at which a stream loses half."""
    pairs = zip(data.distance_m, shares, strict=True)
    return next((metres for metres, share in pairs if share is not None and share < 0.5), None)


def _text(data: ReachData) -> str:
    parts = [
        f"Bands: {UNKNOWN_DB:g} dB less to {UNKNOWN_DB:g} dB more than described, the line as "
        "described."
    ]
    for stream in data.streams:
        ends = [
            _half_lost_m(data, band)
            for band in (stream.delivery_ratio.low, stream.delivery_ratio.high)
        ]
        said = ["not within what was looked at" if m is None else _about(m) for m in ends]
        parts.append(
            f"{stream.name}: half is lost {said[0]} in the worse case, {said[1]} in the better; "
            f"its longest gap is {_first_last(stream.longest_gap_ms.low)} in the worse."
        )
    for letter, limit in zip(LETTERS, data.limits, strict=False):
        parts.append(f"{letter}: {limit.requirement} {_where(limit)}.")
    if has_trips(data):
        parts.append(
            f"Where fewer than {100 * LEAST:g} % arrive, a failsafe that is never left cannot trip."
        )
    return " ".join(parts)


def _about(metres: float) -> str:
    return f"at about {rounded_m(metres):g} m"


def _first_last(waits_ms: Sequence[float | None]) -> str:
    there = [wait for wait in waits_ms if wait is not None]
    return (
        f"{duration_text(there[0])} near, {duration_text(there[-1])} far" if there else "not known"
    )


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
