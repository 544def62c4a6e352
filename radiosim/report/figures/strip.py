"""Figure: what happens on the air; a lane for each sender, the receiver and each output."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from radiosim.report.figures.canvas import BAD, GROUND, INK, LINE, QUIET, SERIES, Canvas, drawn
from radiosim.report.figures.drawn import Drawn
from radiosim.report.figures.scales import short
from radiosim.report.terminal.words import whole
from radiosim.trace import DUPLICATE, FATES, NEW, TAKEN, Table, Trace
from radiosim.vehicle.kept import VehicleRecord

LANE_PX, NARROW_LANE_PX = 46, 44
BELOW_PX = 130
MARKS = {
    "collision": ("x", "collision"),
    "deaf": ("v", "receiver deaf"),
    "full": ("s", "FIFO full"),
    "chance": ("o", "lost by chance"),
    "range": ("D", "out of range"),
    "off": ("P", "receiver off"),
    "cut": ("|", "cut off"),
}
"""Shape and words of what becomes of attempts that bring nothing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """Something that lasts; `fate` says what became of it."""

    start_ms: float
    end_ms: float
    fate: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Lane:
    """What one unit or part did."""

    name: str
    kind: str
    """sender, radio, reads, fifo, output"""
    spans: tuple[Span, ...]
    """In the FIFO lane, `fate` is the number of frames in it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StripData:
    """Some milliseconds of a start."""

    name: str
    start: int
    from_ms: float
    to_ms: float
    lanes: tuple[Lane, ...]
    about: str
    """Why this span."""


def strip_data(
    trace: Trace, vehicle: VehicleRecord, *, name: str, from_ms: float, to_ms: float, about: str
) -> StripData:
    """The rows of a trace between two instants."""
    low, high = round(from_ms * 1e6), round(to_ms * 1e6)
    return StripData(
        name=name,
        start=trace.start,
        from_ms=low / 1e6,
        to_ms=high / 1e6,
        lanes=tuple(_lanes(trace, vehicle, low, high)),
        about=about,
    )


def _lanes(trace: Trace, vehicle: VehicleRecord, low: int, high: int) -> Iterator[Lane]:
    attempts = _within(trace.attempts, low, high, "start_ns", "end_ns")
    for number, name in enumerate(trace.scenario.transmitter):
        mine = attempts[attempts["stream"] == number]
        spans = [_span(row["start_ns"], row["end_ns"], FATES[row["fate"]]) for row in mine]
        yield Lane(name=name, kind="sender", spans=tuple(spans))
    yield Lane(name="receiver's radio", kind="radio", spans=_radio(trace, attempts, low, high))
    passes = _within(trace.passes, low, high, "start_ns", "next_ns")
    yield Lane(
        name="passes that read",
        kind="reads",
        spans=tuple(_span(row["start_ns"], row["next_ns"], str(row["frames"])) for row in passes),
    )
    yield Lane(name="frames in the FIFO", kind="fifo", spans=_fifo(trace.reads, low, high))
    for name, record in vehicle.outputs.items():
        effects = _within(record.effects, low, high, "end_ns", "end_ns")
        spans = [_span(row["end_ns"], row["end_ns"], _effect(row)) for row in effects]
        yield Lane(name=name, kind="output", spans=tuple(spans))


def _within(table: Table, low: int, high: int, begin: str, end: str) -> Table:
    return table[(table[begin] < high) & (table[end] >= low)]


def _span(start_ns: int, end_ns: int, fate: str) -> Span:
    return Span(start_ms=int(start_ns) / 1e6, end_ms=int(end_ns) / 1e6, fate=fate)


def _radio(trace: Trace, attempts: Table, low: int, high: int) -> tuple[Span, ...]:
    heard = attempts[(attempts["fate"] == NEW) | (attempts["fate"] == DUPLICATE)]
    spans = [_span(row["start_ns"], row["end_ns"], "hears") for row in heard]
    answers = _within(trace.acknowledgements, low, high, "start_ns", "end_ns")
    for row in answers:
        fate = "answers" if row["fate"] == TAKEN else "answers in vain"
        spans.append(_span(row["start_ns"], row["end_ns"], fate))
    return tuple(sorted(spans, key=lambda span: span.start_ms))


def _fifo(reads: Table, low: int, high: int) -> tuple[Span, ...]:
    """Times of constant fill, empty ones left out."""
    mine = _within(reads, low, high, "accepted_ns", "read_ns")
    steps: dict[int, int] = {}
    for row in mine:
        steps[int(row["accepted_ns"])] = steps.get(int(row["accepted_ns"]), 0) + 1
        steps[int(row["read_ns"])] = steps.get(int(row["read_ns"]), 0) - 1
    instants, fill, spans = sorted(steps), 0, []
    for at, until in pairwise(instants):
        fill += steps[at]
        if fill:
            spans.append(_span(at, until, str(fill)))
    return tuple(spans)


def _effect(row: "np.void") -> str:
    if not row["is_live"]:
        return "not live"
    return "fresh" if row["is_fresh"] else "again"


def draw(data: StripData) -> Drawn:
    """The figure."""
    return drawn(
        data.name,
        data,
        title=_title(data),
        text=_text(data),
        paint=lambda canvas: _paint(canvas, data),
        height_px=BELOW_PX + LANE_PX * len(data.lanes),
        narrow_height_px=BELOW_PX + 40 + NARROW_LANE_PX * len(data.lanes),
    )


def _lost(data: StripData) -> dict[str, int]:
    found: dict[str, int] = {}
    for lane in data.lanes:
        for span in lane.spans if lane.kind == "sender" else ():
            if span.fate in MARKS:
                found[span.fate] = found.get(span.fate, 0) + 1
    return found


def _title(data: StripData) -> str:
    sent = sum(len(lane.spans) for lane in data.lanes if lane.kind == "sender")
    lost = sum(_lost(data).values())
    return f"{data.about}: {lost} of {sent} attempts bring nothing"


def _text(data: StripData) -> str:
    lost = ", ".join(f"{MARKS[fate][1]} {whole(count)}" for fate, count in _lost(data).items())
    lanes = []
    for lane in data.lanes:
        if lane.kind == "sender":
            lanes.append(f"{lane.name} is on the air {len(lane.spans)} times")
        if lane.kind == "output":
            fresh = sum(span.fate == "fresh" for span in lane.spans)
            lanes.append(f"{lane.name} gets {fresh} fresh values")
    reads = sum(len(lane.spans) for lane in data.lanes if lane.kind == "reads")
    return (
        f"Start {data.start}, {data.from_ms:.1f} to {data.to_ms:.1f} ms. "
        f"{'; '.join(lanes)}; {reads} passes read frames. "
        f"Attempts that bring nothing: {lost or 'none'}."
    )


_BAR, _LOW = 0.42, 0.22
_RADIO = {
    "hears": {"facecolor": QUIET, "edgecolor": QUIET, "hatch": ""},
    "answers": {"facecolor": GROUND, "edgecolor": INK, "hatch": "/////"},
    "answers in vain": {"facecolor": GROUND, "edgecolor": BAD, "hatch": "xxxxx"},
}
_EFFECTS = {"fresh": ("^", INK, 6.0), "again": ("|", QUIET, 6.0), "not live": ("s", BAD, 4.5)}
_EFFECT_WORDS = {
    "fresh": "fresh value in effect",
    "again": "pulse repeats",
    "not live": "failsafe or start-up",
}


def _paint(canvas: Canvas, data: StripData) -> None:
    (axes,) = canvas.axes()
    count = len(data.lanes)
    for number, lane in enumerate(data.lanes):
        base = count - 1 - number
        axes.axhline(base, color=LINE, lw=0.8, zorder=0)
        axes.annotate(
            short(lane.name),
            (0, base + 0.88),
            xycoords=("axes fraction", "data"),
            va="top",
            ha="left",
            xytext=(2, 0),
            textcoords="offset points",
        )
        _PAINTERS[lane.kind](canvas, data, lane, base, number)
    axes.set_ylim(-0.15, count)
    axes.set_xlim(data.from_ms, data.to_ms)
    axes.set_yticks([])
    axes.spines["left"].set_visible(False)
    axes.set_xlabel("time in the start, ms")
    canvas.key()


def _bars(
    canvas: Canvas, lane: Lane, base: float, high: float, label: str, **style: object
) -> None:
    axes = canvas.figure.axes[0]
    if lane.spans:
        lefts = [span.start_ms for span in lane.spans]
        widths = [span.end_ms - span.start_ms for span in lane.spans]
        axes.bar(lefts, high, widths, base, align="edge", label=label, **style)  # type: ignore[arg-type]


def _some(lane: Lane, *fates: str) -> Lane:
    spans = tuple(span for span in lane.spans if span.fate in fates)
    return Lane(name=lane.name, kind=lane.kind, spans=spans)


def _sender(canvas: Canvas, data: StripData, lane: Lane, base: int, number: int) -> None:
    colour = SERIES[number % len(SERIES)]
    edge = {"edgecolor": colour, "lw": 1.2}
    _bars(canvas, _some(lane, "new"), base, _BAR, "new frame arrives", facecolor=colour, **edge)
    _bars(canvas, _some(lane, "duplicate"), base, _BAR, "the same again", facecolor=GROUND, **edge)
    lost = _some(lane, *MARKS)
    _bars(canvas, lost, base, _LOW, "brings nothing", facecolor=GROUND, hatch="//////", **edge)
    for fate, (marker, words) in MARKS.items():
        spans = _some(lane, fate).spans
        if spans:
            middles = [(span.start_ms + span.end_ms) / 2 for span in spans]
            canvas.figure.axes[0].plot(
                middles,
                [base + 0.36] * len(spans),
                ls="",
                marker=marker,
                ms=5.5,
                color=BAD,
                mfc="none",
                mew=1.4,
                label=words,
            )


def _radio_lane(canvas: Canvas, data: StripData, lane: Lane, base: int, number: int) -> None:
    for fate, style in _RADIO.items():
        words = {"hears": "hears a frame", "answers": "answers, deaf meanwhile"}.get(fate, fate)
        _bars(canvas, _some(lane, fate), base, _BAR, words, lw=1, **style)


def _reads(canvas: Canvas, data: StripData, lane: Lane, base: int, number: int) -> None:
    _bars(canvas, lane, base, _BAR, "pass that reads", facecolor=INK, edgecolor=INK, lw=1)


def _fill(canvas: Canvas, data: StripData, lane: Lane, base: int, number: int) -> None:
    most = max((int(span.fate) for span in lane.spans), default=1)
    for fill in sorted({span.fate for span in lane.spans}):
        high = 0.5 * int(fill) / max(most, 3)
        _bars(
            canvas,
            _some(lane, fill),
            base,
            high,
            "frames waiting",
            facecolor=SERIES[2],
            edgecolor=SERIES[2],
            lw=1,
        )


def _output(canvas: Canvas, data: StripData, lane: Lane, base: int, number: int) -> None:
    for fate, (marker, colour, size) in _EFFECTS.items():
        spans = _some(lane, fate).spans
        if spans:
            canvas.figure.axes[0].plot(
                [span.start_ms for span in spans],
                [base + 0.25] * len(spans),
                ls="",
                marker=marker,
                ms=size,
                color=colour,
                mfc=colour if fate != "not live" else "none",
                label=_EFFECT_WORDS[fate],
            )


_PAINTERS = {
    "sender": _sender,
    "radio": _radio_lane,
    "reads": _reads,
    "fifo": _fill,
    "output": _output,
}
