"""Figure: when do the clocks beat; offset between the frames of two transmitters, with its
losses."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import numpy.typing as npt

from radiosim.report.figures.canvas import BAD, QUIET, SERIES, Canvas, figure
from radiosim.report.figures.looks import short_names
from radiosim.results.document import Figure
from radiosim.results.formats import duration_text, fmt_count, fmt_sig3
from radiosim.trace import Fate, Table, Trace

DOTS = 600
"""Frames drawn, at most; every loss counts, no more than this are drawn."""
FEW = 300
"""Dots up to which they can be large."""
SLOW_MS = 0.2
"""Change of the offset from frame to frame up to which a whole run can be followed by eye."""
CLOSE_UP_S = 2.0
MOST = 0.99
"""Share of a transmitter's intervals that are no longer than its period, with retries."""

Times = npt.NDArray[np.int64]

MOST_IN_LINE = 20
"""Letters of two names beside the axis, which is no higher."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BeatsData:
    """Offsets of the second transmitter's frames to the first one's nearest, over a span of a
    start."""

    start: int
    transmitters: int
    """Of the scenario; of more than two, the pair that collides most is shown."""
    first: str
    second: str
    from_s: float
    to_s: float
    at_s: tuple[float, ...]
    offset_ms: tuple[float, ...]
    lost_at_s: tuple[float, ...]
    """First attempts of the second transmitter that a collision took."""
    lost_offset_ms: tuple[float, ...]
    lost: int
    """All attempts of both that overlapped and a collision took in the span, retries included."""
    overlap_ms: float
    """Frames whose offsets are smaller than this are on the air together."""
    lost_running: int
    """Most first attempts of the second in a row, in the span, that a collision took."""
    together_s: float
    """The longest time in the span in which each first attempt of the second overlapped one of the
    first's."""
    within_ms: float
    """A frame is shown if one of the first transmitter's is no further away."""
    left_out: int
    """Frames of the second transmitter in the span that had none so near: the first was silent."""


def beats_data(trace: Trace) -> BeatsData | None:
    """The numbers of the pair that collides most; where offsets jump, the seconds that cost most.

    None for fewer than two transmitters that were on the air.
    """
    pair = _fullest_pair(trace)
    if pair is None:
        return None
    names = tuple(trace.scenario.transmitter)
    firsts = trace.attempts[trace.attempts["attempt"] == 1]
    a, b = (np.sort(firsts[firsts["stream"] == k], order="start_ns") for k in pair)
    clashes = _clashes(trace.attempts, *pair)
    offsets = _nearest(a["start_ns"], b["start_ns"])
    at_s = b["start_ns"] / 1e9
    is_slow = float(np.median(np.abs(np.diff(offsets)))) / 1e6 < SLOW_MS
    whole_s = trace.duration_ns / 1e9
    low = 0.0 if is_slow else _fullest_s(clashes, whole_s)
    high = whole_s if is_slow else min(whole_s, low + CLOSE_UP_S)
    within_ns = _within_ns(trace, pair, (a["start_ns"], b["start_ns"]))
    is_in = (at_s >= low) & (at_s <= high)
    is_alone = is_in & (np.abs(offsets) > within_ns)
    in_span = np.flatnonzero(is_in)
    is_in &= ~is_alone
    overlap_ns = (
        int(np.median(a["end_ns"] - a["start_ns"]) + np.median(b["end_ns"] - b["start_ns"])) // 2
    )
    is_lost = is_in & (b["fate"] == Fate.COLLISION)
    shown, lost = _some(np.flatnonzero(is_in)), _some(np.flatnonzero(is_lost))
    return BeatsData(
        start=trace.start,
        transmitters=len(names),
        first=names[pair[0]],
        second=names[pair[1]],
        from_s=low,
        to_s=high,
        at_s=_rounded(at_s[shown]),
        offset_ms=_rounded(offsets[shown] / 1e6),
        lost_at_s=_rounded(at_s[lost]),
        lost_offset_ms=_rounded(offsets[lost] / 1e6),
        lost=int(np.count_nonzero((clashes >= low * 1e9) & (clashes <= high * 1e9))),
        overlap_ms=overlap_ns / 1e6,
        lost_running=max((n for _, n in _runs(b["fate"][in_span] == Fate.COLLISION)), default=0),
        together_s=_longest(_overlap(b, a)[in_span], at_s[in_span]),
        within_ms=within_ns / 1e6,
        left_out=int(np.count_nonzero(is_alone)),
    )


def _fullest_pair(trace: Trace) -> tuple[int, int] | None:
    """The two transmitters whose attempts cost each other most; the first two if none do."""
    attempts = trace.attempts
    firsts = attempts["stream"][attempts["attempt"] == 1]
    heard = [k for k in range(len(trace.scenario.transmitter)) if (firsts == k).sum() > 1]
    pairs = tuple(combinations(heard, 2))
    return max(pairs, key=lambda pair: len(_clashes(attempts, *pair)), default=None)


def _clashes(attempts: Table, first: int, second: int) -> Times:
    """When attempts of two transmitters began that overlapped one of the other's and were lost,
    ns."""
    a, b = (np.sort(attempts[attempts["stream"] == k], order="start_ns") for k in (first, second))
    return np.concatenate((_met(a, b), _met(b, a)))


def _met(mine: Table, others: Table) -> Times:
    """Starts of those lost to a collision that overlap an attempt of the others, which rise."""
    lost = mine[mine["fate"] == Fate.COLLISION]
    starts: Times = lost["start_ns"][_overlap(lost, others)]
    return starts


def _overlap(mine: Table, others: Table) -> npt.NDArray[np.bool_]:
    """Which of some attempts overlap one of the others, which rise."""
    if not len(others):
        return np.zeros(len(mine), np.bool_)
    # One transmitter's attempts never overlap: the first that is not over yet decides.
    k = np.searchsorted(others["end_ns"], mine["start_ns"], side="right")
    is_met: npt.NDArray[np.bool_] = k < len(others)
    return is_met & (others["start_ns"][np.minimum(k, len(others) - 1)] < mine["end_ns"])


def _fullest_s(clashes: Times, whole_s: float) -> float:
    """Beginning of the seconds in which most attempts clashed, in whole steps."""
    at_s = clashes / 1e9
    steps = max(1, int(whole_s / CLOSE_UP_S))
    counts = np.bincount((at_s / CLOSE_UP_S).astype(int), minlength=steps)[:steps]
    return CLOSE_UP_S * int(counts.argmax())


def _nearest(first: Times, second: Times) -> Times:
    """From each of `second` to the nearest of `first`, which rise; > 0: later than it."""
    after = np.clip(np.searchsorted(first, second), 1, len(first) - 1)
    to_before, to_after = second - first[after - 1], second - first[after]
    return np.where(np.abs(to_before) <= np.abs(to_after), to_before, to_after)


def _within_ns(trace: Trace, pair: tuple[int, int], starts: tuple[Times, Times]) -> int:
    """How far apart nearest frames can be while both send: half the longer period, with jitter."""
    # Not the longest of all: in that one a transmitter may have been off.
    periods = (np.quantile(np.diff(ns), MOST, method="lower") for ns in starts)
    units = list(trace.scenario.transmitter.values())
    jitter_ms = max(units[k].jitter_ms for k in pair)
    return int(max(periods) / 2 + jitter_ms * 1e6) + 1


def _some(rows: Times) -> Times:
    step = -(-len(rows) // DOTS) if len(rows) else 1
    return rows[::step]


def _rounded(values: npt.NDArray[np.float64]) -> tuple[float, ...]:
    return tuple(round(float(value), 6) for value in values)


def _runs(is_so: npt.NDArray[np.bool_]) -> Iterator[tuple[int, int]]:
    """Where neighbours begin that all are so, and how many there are."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], is_so, [False])).astype(int)))
    for begin, end in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        yield begin, end - begin


def _longest(is_met: npt.NDArray[np.bool_], at_s: npt.NDArray[np.float64]) -> float:
    """Longest span of neighbouring frames that all overlap."""
    spans = [float(at_s[begin + n - 1] - at_s[begin]) for begin, n in _runs(is_met)]
    return round(max(spans, default=0.0), 6)


def figure_of(data: BeatsData) -> Figure:
    """The figure."""
    return figure(
        "beats",
        data,
        title=_title(data),
        text=_text(data),
        paint=lambda canvas: _paint(canvas, data),
    )


def _title(data: BeatsData) -> str:
    if data.together_s >= 1:
        return (
            f"The clocks of {data.first} and {data.second} beat: their frames overlap for "
            f"{duration_text(1000 * data.together_s)} on end"
        )
    who = f"{data.first} and {data.second}"
    if not data.lost:
        others = "; what is lost collides with something else" if data.lost_at_s else ""
        return f"Frames of {who} cost each other nothing{others}"
    attempts = "1 attempt" if data.lost == 1 else f"{fmt_count(data.lost)} attempts"
    return f"{attempts} of {who} were lost to each other; {_running(data)} lost to collisions"


def _running(data: BeatsData) -> str:
    """How many crosses there are in a row."""
    match data.lost_running:
        case 0:
            return f"no first attempt of {data.second} is"
        case 1:
            return f"never two first attempts of {data.second} in a row are"
        case several:
            return f"up to {fmt_count(several)} first attempts of {data.second} in a row are"


def _text(data: BeatsData) -> str:
    pair = ""
    if data.transmitters > 2:
        most = "these two collide most" if data.lost else "no two collide; these are the first two"
        pair = f" Of the {data.transmitters} transmitters {most}."
    alone = ""
    if data.left_out:
        were = "frame is" if data.left_out == 1 else "frames are"
        alone = (
            f" {fmt_count(data.left_out)} {were} left out: {data.first} was silent, with no frame "
            f"within {duration_text(data.within_ms)}."
        )
    return (
        f"Start {data.start}, from {fmt_sig3(data.from_s)} to {fmt_sig3(data.to_s)} s: how much "
        f"later a frame of {data.second} goes on the air than the nearest one of {data.first}. "
        f"Less than {duration_text(data.overlap_ms)} apart they overlap (the band). "
        f"{_lost(data.lost)} to a collision in this span; "
        f"crosses: first attempts of {data.second}; one outside the band overlapped a retry or "
        f"something else on the air.{alone}{pair}"
    )


def _lost(count: int) -> str:
    if count == 1:
        return "1 attempt of the two overlapped another and was lost"
    return f"{fmt_count(count)} attempts of the two overlapped and were lost"


def _paint(canvas: Canvas, data: BeatsData) -> None:
    (axes,) = canvas.axes()
    axes.axhspan(
        -data.overlap_ms,
        data.overlap_ms,
        facecolor="none",
        edgecolor=QUIET,
        hatch="////",
        lw=0.5,
        label="frames overlap",
    )
    axes.plot(
        data.at_s,
        data.offset_ms,
        ls="",
        marker=".",
        ms=3 if len(data.at_s) > FEW else 5,
        color=SERIES[1],
        label="a frame",
    )
    axes.plot(
        data.lost_at_s,
        data.lost_offset_ms,
        ls="",
        marker="x",
        ms=6,
        mew=1.4,
        color=BAD,
        label="lost to a collision",
    )
    axes.set_xlim(data.from_s, data.to_s)
    axes.set_xlabel("time in the start, s")
    first, second = short_names([data.first, data.second])
    break_ = " " if len(first) + len(second) <= MOST_IN_LINE else "\n"
    axes.set_ylabel(f"{second}{break_}after {first}, ms")
    axes.grid(visible=True)
    canvas.key()
