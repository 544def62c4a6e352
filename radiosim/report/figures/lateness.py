"""Figure: how late is control; delay of values and age of what is obeyed, as shares."""

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from radiosim.report.figures.canvas import SERIES, Canvas, drawn
from radiosim.report.figures.drawn import Drawn
from radiosim.report.figures.scales import log_ms, short
from radiosim.report.terminal.words import digits
from radiosim.trace import READ, Trace

SHARES = (0.001, 0.01, *(k / 100 for k in range(5, 100, 5)), 0.98, 0.99, 0.995, 0.999, 1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class StreamLateness:
    """Quantiles at SHARES, ms; empty if nothing was read."""

    name: str
    delay_ms: tuple[float, ...]
    """From sample to read, over values."""
    age_ms: tuple[float, ...]
    """Of the newest value since it was taken, over time from the first read on."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LatenessData:
    """Delay and age of every stream in one start."""

    start: int
    shares: tuple[float, ...]
    streams: tuple[StreamLateness, ...]


def lateness_data(trace: Trace) -> LatenessData:
    """The numbers of one start."""
    return LatenessData(
        start=trace.start,
        shares=SHARES,
        streams=tuple(
            _stream(trace, number, name) for number, name in enumerate(trace.scenario.transmitter)
        ),
    )


def _stream(trace: Trace, number: int, name: str) -> StreamLateness:
    reads = trace.reads[(trace.reads["stream"] == number) & (trace.reads["outcome"] == READ)]
    if not len(reads):
        return StreamLateness(name=name, delay_ms=(), age_ms=())
    delay = np.quantile(reads["read_ns"] - reads["sampled_ns"], SHARES, method="inverted_cdf")
    taken = np.maximum.accumulate(reads["values_ns"])
    ends = np.append(reads["read_ns"][1:], trace.duration_ns)
    age = _quantiles_of_ramps(reads["read_ns"] - taken, ends - taken)
    return StreamLateness(
        name=name,
        delay_ms=tuple(float(value) for value in delay / 1e6),
        age_ms=tuple(round(float(value), 6) for value in age / 1e6),
    )


def _quantiles_of_ramps(
    low: npt.NDArray[np.int64], high: npt.NDArray[np.int64]
) -> npt.NDArray[np.float64]:
    """Quantiles over time of an age that rises from each `low` to its `high`."""
    edges = np.unique(np.concatenate((low, high)))
    # Between two edges the number of ramps under way is constant, so shares grow straight.
    under_way = np.searchsorted(np.sort(low), edges[:-1], "right") - np.searchsorted(
        np.sort(high), edges[:-1], "right"
    )
    spent = np.concatenate(([0.0], np.cumsum(under_way * np.diff(edges).astype(float))))
    if not spent[-1] > 0:
        return np.full(len(SHARES), float(edges[-1]))
    found: npt.NDArray[np.float64] = np.interp(
        np.array(SHARES) * spent[-1], spent, edges.astype(float)
    )
    return found


def draw(data: LatenessData) -> Drawn:
    """The figure."""
    return drawn(
        "lateness",
        data,
        title=_title(data),
        text=_text(data),
        paint=lambda canvas: _paint(canvas, data),
    )


def _at(values: tuple[float, ...], share: float) -> str:
    return digits(values[SHARES.index(share)]) if values else "-"


def _title(data: LatenessData) -> str:
    read = [s for s in data.streams if s.delay_ms]
    if not read:
        return "Nothing was read, so nothing is late"
    worst = max(read, key=lambda s: s.age_ms[SHARES.index(0.99)])
    return (
        f"{worst.name}'s newest value is over {_at(worst.age_ms, 0.5)} ms old half of the time, "
        f"over {_at(worst.age_ms, 0.99)} ms for 1 % of it"
    )


def _text(data: LatenessData) -> str:
    parts = [
        f"{s.name}: half of its values are read within {_at(s.delay_ms, 0.5)} ms, 99 % within "
        f"{_at(s.delay_ms, 0.99)} ms; age is under {_at(s.age_ms, 0.5)} ms half of the time, under "
        f"{_at(s.age_ms, 0.99)} ms for 99 % of it, {_at(s.age_ms, 1.0)} ms at most."
        if s.delay_ms
        else f"{s.name}: nothing was read."
        for s in data.streams
    ]
    return (
        f"Start {data.start}. Delay: from sample to read. Age: how old the newest value is at any "
        f"moment, failsafe or not. {' '.join(parts)}"
    )


def _paint(canvas: Canvas, data: LatenessData) -> None:
    (axes,) = canvas.axes()
    for number, stream in enumerate(data.streams):
        colour = SERIES[number % len(SERIES)]
        marker = "os^D"[number % 4]
        style: dict[str, Any] = {"color": colour, "marker": marker, "ms": 4.5, "markevery": 5}
        if stream.delay_ms:
            axes.plot(
                stream.delay_ms, SHARES, ls="-", label=f"{short(stream.name)}, delay", **style
            )
            axes.plot(
                stream.age_ms,
                SHARES,
                ls=(0, (5, 2)),
                mfc="none",
                label=f"{short(stream.name)}, age",
                **style,
            )
    log_ms(axes)
    axes.set_xlabel("time since the sample")
    axes.set_ylabel("share of values, or of time")
    axes.yaxis.set_major_formatter(lambda value, _: f"{100 * value:g} %")
    axes.grid(visible=True)
    canvas.key()
