"""Figure: how long without a value; the share of waits that last longer than a time."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from radiosim.measure.summary import Distribution, Summary
from radiosim.report.figures.canvas import DASHES, QUIET, SERIES, Canvas, drawn
from radiosim.report.figures.drawn import Drawn
from radiosim.report.figures.scales import log_ms, short
from radiosim.report.terminal.verdict import verdict
from radiosim.report.terminal.words import digits
from radiosim.trace import READ, Trace

POINTS = 120
"""Of a curve, at most."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StreamWaits:
    """Waits of one stream, the one before the first value and the one after the last included."""

    name: str
    timeout_ms: float | None
    waits_ms: tuple[float, ...]
    """Lengths, rising, of the start that is shown."""
    longer: tuple[float, ...]
    """Which share of its waits is at least so long."""
    all_ms: tuple[float, ...]
    """Over all starts: half, 5 %, 1 % of waits are longer, and the longest; or empty."""
    all_n: int
    longest_ms: float
    """Of all starts."""
    is_cut: bool = False
    """A fault of the scene lies in the longest."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WaitsData:
    """The waits of every stream in one start, and what all starts say."""

    start: int
    streams: tuple[StreamWaits, ...]


def waits_data(summary: Summary, trace: Trace) -> WaitsData:
    """The numbers of a run whose one start is shown."""
    return WaitsData(
        start=trace.start,
        streams=tuple(
            _stream(summary, trace, number, name)
            for number, name in enumerate(summary.figures.stream)
        ),
    )


def _stream(summary: Summary, trace: Trace, number: int, name: str) -> StreamWaits:
    figures = summary.figures.stream[name]
    lengths = np.sort(waits(trace, number)[1]) / 1e6
    shown = np.unique(np.geomspace(1, max(len(lengths), 1), POINTS).round().astype(int))[::-1]
    stopping = summary.stopping.get(name)
    return StreamWaits(
        name=name,
        timeout_ms=None if stopping is None else stopping.timeout_ms,
        waits_ms=tuple(float(lengths[len(lengths) - k]) for k in shown if k <= len(lengths)),
        longer=tuple(float(k / len(lengths)) for k in shown if k <= len(lengths)),
        all_ms=() if summary.start is not None else _quantiles(figures.gap_ms),
        all_n=figures.gap_ms.n,
        longest_ms=figures.hole_ms,
        is_cut=verdict(summary, trace.scenario, name) == "cut by fault",
    )


Times = npt.NDArray[np.int64]


def waits(trace: Trace, stream: int) -> tuple[Times, Times]:
    """When waits for a value of a stream begin, from its first sample on, and their lengths."""
    reads = trace.reads[(trace.reads["stream"] == stream) & (trace.reads["outcome"] == READ)]
    frames = trace.frames[trace.frames["stream"] == stream]
    first = int(frames["sampled_ns"].min()) if len(frames) else 0
    instants = np.concatenate(([first], reads["read_ns"], [trace.duration_ns])).astype(np.int64)
    return instants[:-1], np.diff(instants)


def _quantiles(spread: Distribution) -> tuple[float, ...]:
    values = (spread.median, spread.p95, spread.p99, spread.max)
    return tuple(value for value in values if value is not None)


def draw(data: WaitsData) -> Drawn:
    """The figure."""
    return drawn(
        "waits",
        data,
        title=_title(data),
        text=_text(data),
        paint=lambda canvas: _paint(canvas, data),
        height_px=320,
    )


def _title(data: WaitsData) -> str:
    over = [s for s in data.streams if s.timeout_ms is not None and s.longest_ms > s.timeout_ms]
    if over:
        # What no fault of the scene explains comes first.
        worst = max(over, key=lambda s: (not s.is_cut, s.longest_ms / (s.timeout_ms or 1)))
        return (
            f"{worst.name} waits up to {digits(worst.longest_ms)} ms for a value; its failsafe "
            f"comes after {digits(worst.timeout_ms)} ms"
            f"{' (a fault of the scene lies in it)' if worst.is_cut else ''}"
        )
    longest = max(data.streams, key=lambda s: s.longest_ms)
    text = f"No stream waits longer than {digits(longest.longest_ms)} ms for a value"
    return text if all(s.timeout_ms is None for s in data.streams) else f"{text}: no timeout is met"


def _text(data: WaitsData) -> str:
    parts = []
    for stream in data.streams:
        usual = (
            f"half of its waits are over {digits(stream.all_ms[0])} ms, 1 % over "
            f"{digits(stream.all_ms[2])} ms, "
            if len(stream.all_ms) == 4
            else ""
        )
        end = (
            "" if stream.timeout_ms is None else f"; its timeout is {digits(stream.timeout_ms)} ms"
        )
        parts.append(f"{stream.name}: {usual}the longest is {digits(stream.longest_ms)} ms{end}.")
    marks = " Marks: all starts together." if any(s.all_ms for s in data.streams) else ""
    return f"Lines: waits of start {data.start}.{marks} {' '.join(parts)}"


def _paint(canvas: Canvas, data: WaitsData) -> None:
    (axes,) = canvas.axes()
    for number, stream in enumerate(data.streams):
        colour, dash = SERIES[number % len(SERIES)], DASHES[number % len(DASHES)]
        axes.step(
            stream.waits_ms,
            stream.longer,
            where="pre",
            color=colour,
            ls=dash,
            label=short(stream.name),
        )
        if stream.all_ms:
            shares = (0.5, 0.05, 0.01, 1 / max(stream.all_n, 1))
            axes.plot(
                stream.all_ms,
                shares[: len(stream.all_ms)],
                ls="",
                marker="os^D"[number % 4],
                color=colour,
                mfc="none",
                ms=6,
                label=f"{short(stream.name)}, all starts",
            )
        if stream.timeout_ms is not None:
            axes.axvline(stream.timeout_ms, color=colour, ls=dash, lw=1)
            axes.annotate(
                f"{short(stream.name)} timeout",
                (stream.timeout_ms, 1),
                xycoords=("data", "axes fraction"),
                xytext=(3 if number % 2 else -3, -4),
                textcoords="offset points",
                rotation=90,
                va="top",
                ha="left" if number % 2 else "right",
                color=colour,
            )
    axes.set_yscale("log")
    log_ms(axes)
    axes.set_xlabel("wait from one value to the next")
    axes.set_ylabel("share of waits that last longer")
    axes.yaxis.set_major_formatter(lambda value, _: f"{100 * value:g} %")
    axes.minorticks_off()
    axes.grid(visible=True)
    axes.tick_params(color=QUIET)
    canvas.key()
