"""Figure: what arrives at which distance, the longest gap and nuisance trips, as bands."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import msgspec

from radiosim.report.figures.canvas import BAD, DASHES, INK, SERIES, Canvas, drawing
from radiosim.report.figures.looks import fill, short, time_text
from radiosim.results.document import Drawing, Figure
from radiosim.results.formats import duration_text, fmt_sig3
from radiosim.study.level_samples import UNKNOWN_DB
from radiosim.study.range import LEAST, Band, Limit, Reach, rounded_m, rounded_up_m

if TYPE_CHECKING:
    from matplotlib.axes import Axes


NAME = "range"
PANEL_PX, LIMIT_PX = 170, 17
"""Heights of a panel of curves, and of a requirement in the panel below them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BandOf:
    """One figure over distance: the least of it within 6 dB, as described, the most; None: none."""

    least: tuple[float | None, ...]
    nominal: tuple[float | None, ...]
    most: tuple[float | None, ...]


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
        least=tuple(band.least for band in bands),
        nominal=tuple(band.nominal for band in bands),
        most=tuple(band.most for band in bands),
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
    return any(any(stream.nuisance_per_hour.most) for stream in data.streams)


def _title(data: ReachData) -> str:
    ends = [(_half_lost_m(data, s.delivery_ratio.least), s.name) for s in data.streams]
    lost = [(metres, name) for metres, name in ends if metres is not None]
    told = [limit for limit in data.limits if not limit.is_open[0] and not limit.unjudged]
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
    worse, better = (
        f"{rounded(metres):g}"
        for rounded, metres in zip((rounded_m, rounded_up_m), limit.distance_m, strict=True)
    )
    if limit.distance_m[1] == 0:
        return "holds at no distance"
    if limit.unjudged:
        return f"is not judged, and surely fails nowhere up to {worse} m"
    if limit.is_open[0]:
        return f"holds as far as was looked, {worse} m"
    if limit.distance_m[0] == 0:
        return f"may hold nowhere, or up to {better} m"
    if limit.is_open[1]:
        return f"stops holding from {worse} m on, or far beyond {better} m"
    return f"stops holding somewhere from {worse} to {better} m"


def _half_lost_m(data: ReachData, shares: Sequence[float | None]) -> float | None:
    """The first distance told at which a stream loses half."""
    pairs = zip(data.distance_m, shares, strict=True)
    return next((metres for metres, share in pairs if share is not None and share < 0.5), None)


def _text(data: ReachData) -> str:
    parts = [
        f"Bands: the least and the most from {UNKNOWN_DB:g} dB less to {UNKNOWN_DB:g} dB more than "
        "described, the line as described."
    ]
    for stream in data.streams:
        ends = [
            _half_lost_m(data, band)
            for band in (stream.delivery_ratio.least, stream.delivery_ratio.most)
        ]
        said = ["not within what was looked at" if m is None else _about(m) for m in ends]
        parts.append(
            f"{stream.name}: half is lost {said[0]} in the worse case, {said[1]} in the better; "
            f"its longest gap is {_first_last(stream.longest_gap_ms.most)} in the worse."
        )
    if data.limits:
        parts.append(
            "The lowest panel has a row for each requirement: a line as far as it holds, a bar "
            "where it stops holding."
        )
    for number, limit in enumerate(data.limits, 1):
        spots = "" if limit.spots_from_m is None else "; at some spots nearer than that, too"
        parts.append(f"{number}: {limit.requirement} {_where(limit)}{spots}.")
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
        height_px=60 + PANEL_PX * _curves(data) + _limits_px(data),
    )


def _curves(data: ReachData) -> int:
    """Panels of curves."""
    return 3 if has_trips(data) else 2


def _limits_px(data: ReachData) -> int:
    """Height of the panel of requirements; 0: there is none."""
    return 30 + LIMIT_PX * len(data.limits) if data.limits else 0


def _paint(canvas: Canvas, data: ReachData) -> None:
    curves = _curves(data)
    heights = [PANEL_PX] * curves + [_limits_px(data)] * bool(data.limits)
    axes = canvas.axes(len(heights), sharex=True, height_ratios=heights)
    for number, stream in enumerate(data.streams):
        _band(axes[0], data, number, stream.delivery_ratio, short(stream.name))
        _band(axes[1], data, number, stream.longest_gap_ms, "")
        if curves > 2:
            _band(axes[2], data, number, stream.nuisance_per_hour, "")
    for each in axes:
        each.grid(visible=True)
    _scales(axes[:curves])
    if data.limits:
        _limits(axes[-1], data)
    _distances(axes[-1], data)
    for each in axes:
        each.minorticks_off()
    canvas.legend(ncols=2 if canvas.is_narrow else 4)


def _scales(axes: "Sequence[Axes]") -> None:
    """Scales of the panels of curves."""
    from matplotlib.ticker import FuncFormatter, LogLocator, NullFormatter

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


def _distances(last: "Axes", data: ReachData) -> None:
    """The scale that all panels share."""
    from matplotlib.ticker import FuncFormatter, LogLocator, NullFormatter

    last.set_xscale("log")
    last.set_xlim(data.distance_m[0], data.distance_m[-1])
    last.xaxis.set_major_locator(LogLocator(base=10, numticks=8))
    last.xaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g} m"))
    last.xaxis.set_minor_formatter(NullFormatter())
    last.set_xlabel("distance")


def _band(axes: "Axes", data: ReachData, number: int, band: BandOf, label: str) -> None:
    """A band with its line; a stream that was never measured has none."""
    rows = [
        (metres, least, nominal, most)
        for metres, least, nominal, most in zip(
            data.distance_m, band.least, band.nominal, band.most, strict=True
        )
        if least is not None and nominal is not None and most is not None
    ]
    if not rows:
        return
    metres, least, nominal, most = zip(*rows, strict=True)
    colour = SERIES[number % len(SERIES)]
    axes.fill_between(metres, least, most, **fill(number, 0.2))
    dash, marker = DASHES[number % len(DASHES)], "os^D"[number % 4]
    axes.plot(metres, nominal, color=colour, ls=dash, marker=marker, ms=4, label=label or None)


def _limits(axes: "Axes", data: ReachData) -> None:
    """A row for each requirement: a line as far as it holds, a bar where it stops holding."""
    near, far = data.distance_m[0], data.distance_m[-1]
    for row, limit in enumerate(data.limits):
        worse = far if limit.is_open[0] else max(limit.distance_m[0], near)
        better = far if limit.is_open[1] else max(limit.distance_m[1], near)
        dotted = (0, (1, 1.5)) if limit.unjudged else "-"
        axes.plot((near, worse), (row, row), color=INK, lw=1.4, ls=dotted)
        axes.broken_barh(
            [(worse, better - worse)], (row - 0.3, 0.6), facecolor=(BAD, 0.35), edgecolor=BAD
        )
    rows = range(len(data.limits))
    axes.set_yticks(list(rows), [str(row + 1) for row in rows])
    axes.set_ylim(len(data.limits) - 0.4, -0.6)
    axes.set_ylabel("required")
