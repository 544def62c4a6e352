"""One start at a glance, drawn with letters: when values came, and the gaps between them."""

import math
from collections.abc import Sequence

import numpy as np

from radiosim.results.formats import duration_text, printable
from radiosim.trace import ReadOutcome, Trace
from radiosim.units import NS_PER_MS

WIDTH = 56
"""Letters of a chart."""
_BLOCKS = "▁▂▃▄▅▆▇█"
_NOTHING = "·"
_NAME = 14
"""Letters of a stream's name that stand beside its chart."""


def glance_lines(trace: Trace) -> tuple[str, ...]:
    """A strip of the share that was read over time, and a histogram of the gaps, by stream."""
    names = tuple(trace.scenario.transmitter)
    gaps_ms = [gaps_of(trace, number) for number in range(len(names))]
    edges_ms = edges_of(gaps_ms)
    duration_ms = trace.duration_ns / NS_PER_MS
    indent = min(_NAME, max(map(len, names)))
    ends = _ends(duration_text(edges_ms[0]), duration_text(edges_ms[-1]))
    return (
        *(_row(name, strip_of(trace, k), indent) for k, name in enumerate(names)),
        _row("", _ends("0 s", duration_text(duration_ms)), indent),
        f"Share of samples that were read, {duration_text(duration_ms / WIDTH)} a letter; "
        f"{_NOTHING}: none.",
        "",
        *(_row(name, bars_of(gaps_ms[k], edges_ms), indent) for k, name in enumerate(names)),
        _row("", ends, indent),
        "Gaps from one value to the next: the taller, the more of them (logarithmic).",
    )


def strip_of(trace: Trace, stream: int) -> str:
    """One letter a slice of the start: the share of its samples that were read."""
    frames = trace.frames["sampled_ns"][trace.frames["stream"] == stream]
    reads = trace.reads[trace.reads["outcome"] == ReadOutcome.READ]
    reads = reads[reads["stream"] == stream]
    edges = np.linspace(0, trace.duration_ns, WIDTH + 1)
    sampled = np.histogram(frames, edges)[0]
    # By the instant of the sample, so that a slice never holds more reads than samples.
    read = np.histogram(reads["values_ns"], edges)[0]
    return "".join(_share(int(n), int(of)) for n, of in zip(read, sampled, strict=True))


def _share(read: int, sampled: int) -> str:
    if not sampled:
        return " "
    return _NOTHING if not read else _letter(min(1.0, read / sampled))


def _letter(share: float) -> str:
    return _BLOCKS[max(0, math.ceil(share * len(_BLOCKS)) - 1)]


def gaps_of(trace: Trace, stream: int) -> tuple[float, ...]:
    """Lengths of the gaps between values, ms, the one that the end cuts off included."""
    reads = trace.reads[trace.reads["outcome"] == ReadOutcome.READ]
    reads = reads[reads["stream"] == stream]
    instants = np.concatenate((reads["read_ns"], [trace.duration_ns])).astype(np.int64)
    return tuple((np.diff(instants) / NS_PER_MS).tolist())


def edges_of(gaps_ms: Sequence[Sequence[float]]) -> tuple[float, ...]:
    """Edges of the bins of all histograms, evenly spread over powers of ten, ms."""
    every = [gap for gaps in gaps_ms for gap in gaps if gap > 0]
    low, high = (min(every), max(every)) if every else (1.0, 1.0)
    edges = np.geomspace(low, max(high, 2 * low), WIDTH + 1).tolist()
    # Rounding must not leave out the shortest and the longest.
    return (low, *edges[1:-1], max(high, 2 * low))


def bars_of(gaps_ms: Sequence[float], edges_ms: Sequence[float]) -> str:
    """One letter a bin: lowest for a single gap, highest for the fullest bin, by logarithm."""
    counts = np.histogram(gaps_ms, edges_ms)[0]
    most = math.log(max(int(counts.max()), 2))
    return "".join(
        " " if not n else _letter(max(1 / len(_BLOCKS), math.log(int(n)) / most)) for n in counts
    )


def _row(name: str, chart: str, indent: int) -> str:
    said = printable(name)
    short = said if len(said) <= indent else f"{said[: indent - 1]}~"
    return f"{short:<{indent}}  {chart}"


def _ends(left: str, right: str) -> str:
    return f"{left}{right:>{WIDTH - len(left)}}"
