"""Figures of a bench log: values beside predicted ranges, gaps, and what a clock line leaves."""

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING

import msgspec

from radiosim.counted import counted
from radiosim.report.figures.canvas import (
    BAD,
    GOOD,
    LINE,
    MARKERS,
    QUIET,
    SERIES,
    Canvas,
    Paint,
    drawing,
)
from radiosim.report.figures.looks import fill, label_shares, log_ms, short, short_names
from radiosim.results.document import Figure
from radiosim.study.fit.fit import Fit
from radiosim.study.fit.gaps import GapCurve
from radiosim.study.fit.judged import Judged
from radiosim.study.fit.offsets import Offsets

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_ROW_PX, _PANEL_PX, _HEIGHT_PX = 24, 150, 340
_EDGE = 1.5
"""Widths of the predicted range beyond which a value is drawn at the edge."""
_RAREST = 0.3
"""Of one gap of so many, below which a curve is not drawn."""


class ValuesData(msgspec.Struct, frozen=True, kw_only=True):
    """Every figure that has a predicted range."""

    figures: tuple[Judged, ...]


class GapsData(msgspec.Struct, frozen=True, kw_only=True):
    """Logged and predicted gaps of every stream."""

    streams: tuple[GapCurve, ...]
    is_held_back: bool


class OffsetsData(msgspec.Struct, frozen=True, kw_only=True):
    """What the clock line of every stream leaves."""

    streams: tuple[Offsets, ...]


def figures_of_log(fit: Fit) -> Iterator[Figure]:
    """The figures that a result has something for."""
    shown = tuple(row for row in fit.figures if row.low is not None)
    if shown:
        yield values_figure(ValuesData(figures=shown))
    if fit.gaps:
        yield gaps_figure(GapsData(streams=fit.gaps, is_held_back=fit.again is not None))
    if fit.offsets:
        yield offsets_figure(OffsetsData(streams=fit.offsets))


def _figure(
    name: str, data: msgspec.Struct, *, title: str, text: str, paint: Paint, height_px: int
) -> Figure:
    return Figure(
        name=name,
        title=title,
        text=text,
        data=msgspec.to_builtins(data),
        draw=lambda: drawing(name, title, paint, height_px=height_px),
    )


def values_figure(data: ValuesData) -> Figure:
    """Each value beside the range that was predicted for it."""
    missed = sum(not row.is_held for row in data.figures)
    return _figure(
        "bench-values",
        data,
        title=(
            f"{counted(missed, 'figure')} of {len(data.figures)} not held"
            if missed
            else f"All {counted(len(data.figures), 'figure')} held"
        ),
        text=(
            "Grey: the predicted range of each figure, all drawn equally wide. Marks: what was "
            "measured, with its interval of 95 % where the log gives one; at the edge: farther out."
        ),
        paint=lambda canvas: _paint_values(canvas, data),
        height_px=90 + _ROW_PX * len(data.figures),
    )


def _paint_values(canvas: Canvas, data: ValuesData) -> None:
    (axes,) = canvas.axes()
    rows = list(reversed(data.figures))
    letters = 24 if canvas.is_narrow else 50
    for place, row in enumerate(rows):
        at, *ends = (
            _placed(row, value) for value in (row.measured, row.measured_low, row.measured_high)
        )
        axes.barh(place, 1.0, left=0.0, height=0.6, color=LINE)
        colour, mark = (GOOD, "o") if row.is_held else (BAD, "X")
        if row.measured_low is not None:
            axes.plot(ends, [place, place], color=colour, lw=1.8)
        axes.plot([at], [place], color=colour, marker=mark, ls="", clip_on=False)
    for label, colour, mark in (("held", GOOD, "o"), ("not held", BAD, "X")):
        axes.plot([], [], color=colour, marker=mark, ls="", label=label)
    axes.set_yticks(range(len(rows)), [short(f"{row.of}: {row.what}", letters) for row in rows])
    axes.set_ylim(-0.7, len(rows) - 0.3)
    axes.set_xlim(-_EDGE, 1 + _EDGE)
    axes.set_xticks([0, 1], ["predicted from", "to"])
    axes.tick_params(color=QUIET)
    canvas.key()


def _placed(row: Judged, value: float | None) -> float:
    """Where a value stands if its predicted range is from 0 to 1; NaN: there is none."""
    if value is None or row.low is None or row.high is None:
        return math.nan
    width = max(row.high - row.low, row.resolution * (1 + row.slack))
    # A range of one step is drawn round its value.
    low = (row.low + row.high - width) / 2
    return min(1 + _EDGE, max(-_EDGE, (value - low) / width))


def gaps_figure(data: GapsData) -> Figure:
    """Shares of gaps that last longer, logged and predicted."""
    longest = max(data.streams, key=lambda one: one.logged[-1])
    when = "on the time that was held back" if data.is_held_back else "in the log"
    return _figure(
        "bench-gaps",
        data,
        title=f"The longest gap {when}: {longest.logged[-1]:.4g} ms, of {longest.stream}",
        text=(
            "Read it as: so large a share of the gaps from one new frame to the next is longer. "
            "Bands: 95 % of simulated logs, share by share"
            f"{', of the scenario as it was fitted' if data.is_held_back else ''}. Lines: logged."
        ),
        paint=lambda canvas: _paint_gaps(canvas, data),
        height_px=_HEIGHT_PX,
    )


def _paint_gaps(canvas: Canvas, data: GapsData) -> None:
    (axes,) = canvas.axes()
    ends = [ms for one in data.streams for ms in (*one.low, *one.high, *one.logged)]
    axes.set_xlim(max(0.01, min(ends)) / 1.1, max(ends) * 1.2)
    log_ms(axes)
    axes.set_yscale("log")
    for number, (stream, name) in enumerate(
        zip(data.streams, short_names([one.stream for one in data.streams]), strict=True)
    ):
        longer = [max(1 - share, _RAREST / stream.gaps) for share in stream.shares]
        axes.fill_betweenx(longer, stream.low, stream.high, **fill(number, 0.25))
        axes.plot(
            stream.logged,
            longer,
            color=SERIES[number % len(SERIES)],
            marker=MARKERS[number % len(MARKERS)],
            ms=4,
            label=name,
        )
    axes.set_xlabel("gap from one new frame to the next")
    label_shares(axes, "share of gaps that last longer")
    canvas.key()


def offsets_figure(data: OffsetsData) -> Figure:
    """How late frames were read beside an even grid."""
    widest = max(data.streams, key=lambda one: max(one.high_ms))
    return _figure(
        "bench-offsets",
        data,
        title=f"Frames are read up to {max(widest.high_ms):.3g} ms late beside their grid",
        text=(
            "Each stream's frames beside the even grid that fits them best, over the log: line, "
            "the median of some frames one after the other; band, the earliest and the latest of "
            "them. A slope that is left would be a clock that drifts; steps are waits and retries."
        ),
        paint=lambda canvas: _paint_offsets(canvas, data),
        height_px=60 + _PANEL_PX * len(data.streams),
    )


def _paint_offsets(canvas: Canvas, data: OffsetsData) -> None:
    panels = canvas.axes(len(data.streams), sharex=True)
    for number, (axes, stream) in enumerate(zip(panels, data.streams, strict=True)):
        _paint_stream(axes, stream, number)
    panels[-1].set_xlabel("time of the log, s")


def _paint_stream(axes: "Axes", stream: Offsets, number: int) -> None:
    axes.fill_between(stream.at_s, stream.low_ms, stream.high_ms, **fill(number, 0.25))
    axes.plot(stream.at_s, stream.median_ms, color=SERIES[number % len(SERIES)])
    axes.set_ylabel(f"{short(stream.stream, 16)}, ms")
    axes.set_ylim(bottom=0)
    axes.grid(visible=True)
    axes.tick_params(color=QUIET)
