"""Figure: how late is control; latency of values and age of what is obeyed, as shares."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from radiosim.counted import counted
from radiosim.measure.summary import Curve, Delays, OfStart, OutputFigures, StreamFigures, Summary
from radiosim.report.figures.canvas import DASHES, MARKERS, SERIES, Canvas, figure, width_px
from radiosim.report.figures.looks import log_ms, short_names
from radiosim.results.document import Figure
from radiosim.results.formats import duration_text

if TYPE_CHECKING:
    from matplotlib.axes import Axes

MOST_SHOWN = 6
"""Of outputs, those whose values are oldest; the text tells of all."""
LEFT_OUT, WORST_LEFT_OUT = 0.005, 0.03
"""The picture ends where so few are faster, or slower; in the worst start, so few slower."""
_HEIGHT_PX, _ROW_PX = 430, 18
"""Of the picture, and of a row of its key."""
MARKS = 4
"""Along a curve."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ControlLatency:
    """How late one output is, or a stream that no output follows; None if nothing came."""

    name: str
    stream: str
    is_output: bool
    latency: Curve | None
    """From sample to in effect, over values; of a stream, to the read."""
    age: Curve | None
    """Of the value in effect since it was taken, over time; of a stream, of the newest read."""
    worst_age: OfStart | None
    """The same in the start in which its 99 % are highest; None if it is the only one."""
    latency_ms: tuple[float, float] | None
    """Median and p99."""
    age_ms: tuple[float, float, float] | None
    """Median and p99 over time; the highest."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LatencyData:
    """Latency and age of all starts together."""

    starts: int
    start: int | None
    """The one that was simulated; None: several."""
    controls: tuple[ControlLatency, ...]


def latency_data(summary: Summary) -> LatencyData | None:
    """The numbers of a run, None if nothing came; ValueError if it has no curves."""
    data = LatencyData(
        starts=summary.starts, start=summary.start, controls=tuple(_controls(summary))
    )
    return data if _oldest_first(data) else None


def _controls(summary: Summary) -> Iterator[ControlLatency]:
    if summary.curves is None:
        raise ValueError("the run must be summarised with has_curves=True to be drawn")
    driven = set()
    for name, output in summary.figures.output.items():
        driven.add(output.stream)
        yield _control(name, output.stream, True, summary.curves.output[name], output)
    for name, stream in summary.figures.stream.items():
        if name not in driven:
            yield _control(name, name, False, summary.curves.stream[name], stream)


def _control(
    name: str, stream: str, is_output: bool, curves: Delays, of: OutputFigures | StreamFigures
) -> ControlLatency:
    latency, age = of.latency_ms, of.age_ms
    return ControlLatency(
        name=name,
        stream=stream,
        is_output=is_output,
        latency=curves.latency,
        age=curves.age,
        worst_age=curves.worst_age,
        latency_ms=None
        if latency.median is None or latency.p99 is None
        else (latency.median, latency.p99),
        age_ms=None
        if age.median is None or age.p99 is None or age.max is None
        else (age.median, age.p99, age.max),
    )


def figure_of(data: LatencyData) -> Figure:
    """The figure."""
    return figure(
        "latency",
        data,
        title=_title(data),
        text=_text(data),
        paint=lambda canvas: _paint(canvas, data),
        height_px=_HEIGHT_PX,
        narrow_height_px=_HEIGHT_PX + _ROW_PX * max(0, len(data.controls[:MOST_SHOWN]) - 3),
    )


def _oldest_first(data: LatencyData) -> list[ControlLatency]:
    """Those that ever had a value."""
    known = [control for control in data.controls if control.age_ms is not None]
    return sorted(
        known, key=lambda control: control.age_ms[1] if control.age_ms else 0.0, reverse=True
    )


def _title(data: LatencyData) -> str:
    worst = _oldest_first(data)[0]
    median_ms, p99_ms, _ = worst.age_ms or (0.0, 0.0, 0.0)
    what = f"What {worst.name} obeys" if worst.is_output else f"{worst.name}'s newest value"
    return f"{what} is {duration_text(median_ms)} old in the median, {duration_text(p99_ms)} at p99"


def _text(data: LatencyData) -> str:
    who = (
        f"{counted(data.starts, 'start')} together" if data.start is None else f"Start {data.start}"
    )
    kinds = {control.is_output for control in data.controls}
    defined = " ".join(_MEANINGS[kind] for kind in (True, False) if kind in kinds)
    return (
        f"{who}. {defined} Median and p99 are those of the values, or of the time; the longest age "
        f"may lie beyond the picture. {' '.join(map(_words, data.controls))}{_apart(data)}"
    )


_MEANINGS = {
    True: "Latency: from the sample until its value is in effect at the output. Age: how old the "
    "value is that the output obeys, failsafe left out.",
    False: "For a stream that no output follows, latency is from the sample to its read, and age "
    "is that of the newest value read, failsafe or not.",
}


def _words(control: ControlLatency) -> str:
    if control.age_ms is None or control.latency_ms is None:
        return f"{control.name}: no value came through."
    latency = [duration_text(ms) for ms in control.latency_ms]
    age = [duration_text(ms) for ms in control.age_ms]
    return (
        f"{control.name}: latency median {latency[0]}, p99 {latency[1]}; age median {age[0]}, p99 "
        f"{age[1]}, longest {age[2]}."
    )


def _apart(data: LatencyData) -> str:
    known = _oldest_first(data)
    worst = known[0].worst_age
    parts = []
    if worst is not None:
        parts.append(f" Dashed: {known[0].name} in start {worst.start}, its worst.")
    if len(known) > MOST_SHOWN:
        parts.append(f" Drawn are the {MOST_SHOWN} with the oldest values.")
    return "".join(parts)


def _paint(canvas: Canvas, data: LatencyData) -> None:
    known = _oldest_first(data)
    shown = [control for control in data.controls if control in known[:MOST_SHOWN]]
    names = short_names([control.name for control in shown])
    upper, lower = canvas.axes(2, sharex=True)
    for number, control in enumerate(shown):
        style, place = _style(number, len(shown)), (number + 0.5) / len(shown)
        if control is known[0] and control.worst_age is not None:
            thin = style | {"ls": (0, (2, 1.5)), "lw": 1.3, "mfc": "none"}
            _line(lower, control.worst_age.curve, place, thin)
            name = f"{names[number]}, start {control.worst_age.start}"
            lower.plot([], [], label=name, **thin)
        for axes, curve in ((upper, control.latency), (lower, control.age)):
            if curve is not None:
                _line(axes, curve, place, style)
        upper.plot([], [], label=names[number], **style)
    _limit(upper, shown)
    log_ms(upper)
    is_output = any(control.is_output for control in shown)
    upper.set_title("latency of values", loc="left", fontsize="medium")
    lower.set_title(
        "age of what is obeyed" if is_output else "age of the newest value",
        loc="left",
        fontsize="medium",
    )
    lower.set_xlabel("time since the sample")
    upper.set_ylabel("share of values")
    lower.set_ylabel("share of time")
    for axes in (upper, lower):
        axes.set_ylim(0, 1.03)
        axes.set_yticks([0, 0.25, 0.5, 0.75, 1])
        axes.yaxis.set_major_formatter(lambda value, _: f"{100 * value:g} %")
        axes.grid(visible=True)
    canvas.key()


def _style(number: int, count: int) -> dict[str, Any]:
    """Of a line; no two of the first eight are alike."""
    return {
        "color": SERIES[number % len(SERIES)],
        "ls": DASHES[number // len(SERIES) % len(DASHES)],
        "lw": width_px(number, count),
        "marker": MARKERS[number % len(MARKERS)],
        "ms": 5,
    }


def _line(axes: "Axes", curve: Curve, place: float, style: dict[str, Any]) -> None:
    """A curve with marks along it, at shares of its own."""
    below = [1 - share for share in curve.beyond]
    axes.plot(curve.ms, below, **style | {"marker": ""})
    shares = [(k + place) / MARKS for k in range(MARKS)]
    marks = 10 ** np.interp(shares, below, np.log10(curve.ms))
    axes.plot(marks, shares, **style | {"ls": ""})


def _limit(axes: "Axes", shown: list[ControlLatency]) -> None:
    curves = [
        curve for control in shown for curve in (control.latency, control.age) if curve is not None
    ]
    ends = [_where(curve, LEFT_OUT) for curve in curves]
    ends += [
        _where(control.worst_age.curve, WORST_LEFT_OUT)
        for control in shown
        if control.worst_age is not None
    ]
    first = min(_where(curve, 1 - LEFT_OUT) for curve in curves)
    axes.set_xlim(first / 1.2, max(*ends, 2 * first) * 1.2)


def _where(curve: Curve, share: float) -> float:
    """The time beyond which a share lies, ms."""
    below = [1 - share_beyond for share_beyond in curve.beyond]
    return float(10 ** np.interp(1 - share, below, np.log10(curve.ms)))
