"""Figure: how long without a fresh value; the share of gaps that last longer than a time."""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from radiosim.assess.answers import verdict
from radiosim.counted import counted
from radiosim.measure.summary import Curve, OfStart, Summary
from radiosim.report.figures.canvas import (
    INK,
    MARKERS,
    SERIES,
    Canvas,
    figure,
    width_px,
)
from radiosim.report.figures.looks import label_shares, log_ms, marked_times, short, short_names
from radiosim.results.document import Figure
from radiosim.results.formats import duration_text, fmt_percent, list_text
from radiosim.scenario import Scenario

if TYPE_CHECKING:
    from matplotlib.axes import Axes

WORST_DASH: Any = (0, (2, 1.5))
_HEIGHT_PX, _ROW_PX = 340, 18
"""Of the picture, and of a row of words."""
NARROW_LETTERS = 16
"""Of the names beside a timeout on a phone, where half the width must do."""
MARKS = 3
"""Along a curve."""
SHORTER = 0.99
"""Where the picture begins: this share of gaps is longer."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StreamGaps:
    """Gaps of one stream, the one before the first value and the one after the last included."""

    name: str
    timeout_ms: float | None
    curve: Curve | None
    """Of all starts."""
    worst: OfStart | None
    """The start with the longest gap; None if it is the only one."""
    median_ms: float | None
    p99_ms: float | None
    """Median and p99."""
    longest_ms: float
    is_cut: bool = False
    """A fault of the scenario lies in the longest."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GapsData:
    """The gaps of every stream."""

    starts: int
    start: int | None
    """The one that was simulated; None: several."""
    streams: tuple[StreamGaps, ...]


def gaps_data(summary: Summary, scenario: Scenario) -> GapsData:
    """The numbers of a run; ValueError if it was summarised without its curves."""
    if summary.curves is None:
        raise ValueError("the run must be summarised with has_curves=True to be drawn")
    streams = []
    for name, curves in summary.curves.waits.items():
        figures, reaction = summary.figures.stream[name], summary.reaction.get(name)
        spread = figures.gap_ms
        streams.append(
            StreamGaps(
                name=name,
                timeout_ms=None if reaction is None else reaction.timeout_ms,
                curve=curves.every,
                worst=curves.worst,
                median_ms=spread.median,
                p99_ms=spread.p99,
                longest_ms=figures.gap_ms.max,
                is_cut=verdict(summary, scenario, name) == "cut by fault",
            )
        )
    return GapsData(starts=summary.starts, start=summary.start, streams=tuple(streams))


def figure_of(data: GapsData) -> Figure:
    """The figure."""
    return figure(
        "gaps",
        data,
        title=_title(data),
        text=_text(data),
        paint=lambda canvas: _paint(canvas, data),
        height_px=_HEIGHT_PX,
        narrow_height_px=_HEIGHT_PX + _ROW_PX * max(0, 2 * len(data.streams) - 4),
    )


def _title(data: GapsData) -> str:
    over = [s for s in data.streams if s.timeout_ms is not None and s.longest_ms > s.timeout_ms]
    if over:
        # What no fault of the scenario explains comes first.
        worst = max(over, key=lambda s: (not s.is_cut, s.longest_ms / (s.timeout_ms or 1)))
        return (
            f"{worst.name} has a gap of {duration_text(worst.longest_ms)}; its failsafe comes "
            f"after {duration_text(worst.timeout_ms)}"
            f"{' (a fault of the scenario lies in it)' if worst.is_cut else ''}"
        )
    longest = max(data.streams, key=lambda s: s.longest_ms)
    text = f"The longest gap is {duration_text(longest.longest_ms)}, of {longest.name}"
    return text if all(s.timeout_ms is None for s in data.streams) else f"{text}: no timeout is met"


def _text(data: GapsData) -> str:
    lines = (
        f"Whole lines: the gaps of {counted(data.starts, 'start')} together. Dashed: those of the "
        "start with the stream's longest gap."
        if data.start is None
        else f"The gaps of start {data.start}."
    )
    return (
        f"{lines} Read it as: so large a share of the gaps from one value to the next is longer. "
        f"{' '.join(_words(stream) for stream in data.streams)}"
    )


def _words(stream: StreamGaps) -> str:
    spread = (
        f"median gap {duration_text(stream.median_ms)}, p99 {duration_text(stream.p99_ms)}, "
        if stream.median_ms is not None
        else ""
    )
    where = "" if stream.worst is None else f", in start {stream.worst.start}"
    return (
        f"{stream.name}: {spread}longest {duration_text(stream.longest_ms)}{where}"
        f"{_over_timeout(stream)}."
    )


def _over_timeout(stream: StreamGaps) -> str:
    if stream.timeout_ms is None:
        return "; it has no timeout"
    share = 0.0
    if stream.curve is not None and stream.longest_ms > stream.timeout_ms:
        # A curve has five digits: one that ends at the timeout has its rarest gaps beyond.
        share = max(beyond(stream.curve, stream.timeout_ms), stream.curve.beyond[-2])
    part = "no gap is" if share == 0 else f"{fmt_percent(share)} of its gaps are"
    return f"; {part} longer than its timeout of {duration_text(stream.timeout_ms)}"


def beyond(curve: Curve, ms: float) -> float:
    """The share that is longer than a time, between points as it is drawn."""
    if ms >= curve.ms[-1]:
        return 0.0
    at, share = _points(curve)
    return float(10 ** np.interp(np.log10(ms), np.log10(at), np.log10(share)))


def _points(curve: Curve) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """As they are drawn: a logarithm has no 0, so the rarest goes on to the longest."""
    return curve.ms, (*curve.beyond[:-1], curve.beyond[-2])


def _paint(canvas: Canvas, data: GapsData) -> None:
    (axes,) = canvas.axes()
    _limit(axes, data)
    log_ms(axes)
    axes.set_yscale("log")
    names = short_names([stream.name for stream in data.streams])
    for number, stream in enumerate(data.streams):
        style: dict[str, Any] = {
            "color": SERIES[number % len(SERIES)],
            "lw": width_px(number, len(data.streams)),
            "marker": MARKERS[number % len(MARKERS)],
        }
        place = (number + 0.5) / len(data.streams)
        if stream.worst is not None:
            thin = style | {"ls": WORST_DASH, "lw": 0.7 * style["lw"], "mfc": "none"}
            _line(axes, stream.worst.curve, place, thin)
        if stream.curve is not None:
            _line(axes, stream.curve, place, style)
            axes.plot([], [], label=names[number], **style)
    if data.start is None:
        axes.plot([], [], color=INK, label="all starts")
        axes.plot([], [], color=INK, ls=WORST_DASH, lw=1.3, label="its worst start")
    marked_times(axes, _timeouts(data, NARROW_LETTERS if canvas.is_narrow else 50))
    axes.set_xlabel("gap from one value to the next")
    label_shares(axes, "share of gaps that last longer")
    canvas.key()


def _line(axes: "Axes", curve: Curve, place: float, style: dict[str, Any]) -> None:
    """A curve with marks along it, at places of its own, and one at its end."""
    at, share = _points(curve)
    left, right = axes.get_xlim()
    axes.plot([min(left, at[0]), *at], [share[0], *share], **style | {"marker": ""})
    low, high = np.log10((left, right))
    marks = [10 ** (low + (high - low) * (k + place) / MARKS) for k in range(MARKS)]
    marks = [ms for ms in marks if ms < at[-1]]
    shares = [beyond(curve, ms) for ms in marks]
    axes.plot([*marks, at[-1]], [*shares, share[-1]], **style | {"ls": ""})


def _timeouts(data: GapsData, letters: int) -> dict[float, str]:
    """Each with the streams that it is of."""
    found: dict[float, list[str]] = {}
    for stream in data.streams:
        if stream.timeout_ms is not None:
            found.setdefault(stream.timeout_ms, []).append(stream.name)
    return {
        ms: f"timeout of {short(list_text(tuple(names)), letters)}" for ms, names in found.items()
    }


def _limit(axes: "Axes", data: GapsData) -> None:
    """The axes from where gaps begin to differ to beyond the longest, and at least a decade."""
    curves = [stream.curve for stream in data.streams if stream.curve is not None]
    begins = [
        next(ms for ms, share in zip(curve.ms, curve.beyond, strict=True) if share < SHORTER)
        for curve in curves
    ]
    timeouts = [stream.timeout_ms for stream in data.streams if stream.timeout_ms is not None]
    first = min([*begins, *timeouts], default=1.0)
    last = max([*(curve.ms[-1] for curve in curves), *timeouts, 3 * first])
    axes.set_xlim(first / 1.25, last * 1.35)
    axes.set_ylim(min([0.05, *(curve.beyond[-2] / 2 for curve in curves)]), 1.5)
