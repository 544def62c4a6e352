"""How a strip is painted: bars, ticks and marks, each told by its shape as well as its colour."""

import math
from collections.abc import Iterator
from dataclasses import dataclass

from radiosim.report.figures.canvas import BAD, GROUND, INK, LINE, QUIET, SERIES, Canvas
from radiosim.report.figures.looks import short
from radiosim.report.figures.strip_lanes import (
    ACKNOWLEDGES,
    DEAF,
    HEARS,
    IDLE,
    SETTLES,
    UNHEARD,
    Lane,
    Span,
    StripData,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """Something as long as it lasts; heights are in lanes, OWN the colour of its transmitter."""

    words: str
    high: float
    face: str
    edge: str
    hatch: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """Something at an instant."""

    words: str
    marker: str
    at: float
    """Height above the foot of its lane, in lanes."""
    colour: str
    px: float = 5.5
    is_filled: bool = False


OWN = ""
_FATE, _ANSWER, _EFFECT = 0.36, 0.53, 0.25
_HIGH, _MIDDLE, _LOW, _TICK = 0.42, 0.30, 0.22, 0.13
_CLEAR = 0.9
"""From one mark to the next of its kind, in widths of it; nearer ones have their bars alone."""

ATTEMPTS = {
    "new": Bar(words="new frame arrives", high=_HIGH, face=OWN, edge=OWN),
    "duplicate": Bar(words="the same again", high=_HIGH, face=GROUND, edge=OWN),
}
LOST = {
    fate: Mark(words=words, marker=marker, at=_FATE, colour=BAD)
    for fate, marker, words in (
        ("collision", "x", "collision"),
        ("deaf", "v", "receiver deaf"),
        ("full", "s", "FIFO full"),
        ("chance", "o", "lost by chance"),
        ("out of range", "D", "out of range"),
        ("off", "P", "receiver off"),
        ("cut", "|", "cut off"),
    )
}
"""What becomes of attempts that are lost."""
_NOTHING = Bar(words="lost", high=_LOW, face=GROUND, edge=OWN, hatch="//////")
_TAKEN = Mark(words="acknowledged", marker=".", at=_ANSWER, colour=INK, is_filled=True)
_MISSED = Mark(words="acknowledgement lost", marker="*", at=_ANSWER, colour=BAD, px=6.5)
_DOWN = Bar(words="not running", high=_HIGH, face=GROUND, edge=QUIET, hatch="\\\\")
_RADIO = {
    HEARS: Bar(words="hears a frame", high=_HIGH, face=QUIET, edge=QUIET),
    DEAF: Bar(words="deaf by its program", high=_HIGH, face=GROUND, edge=QUIET, hatch="-----"),
    SETTLES: Bar(words="turns round, deaf", high=_TICK, face=GROUND, edge=INK, hatch="|||||"),
    ACKNOWLEDGES: Bar(
        words="acknowledges, deaf", high=_MIDDLE, face=GROUND, edge=INK, hatch="/////"
    ),
    UNHEARD: Bar(words="acknowledges unheard", high=_MIDDLE, face=GROUND, edge=BAD, hatch="xxxxx"),
}
_READS = Bar(words="pass that reads", high=_HIGH, face=INK, edge=INK)
_BEGINS = "a pass begins"
_WAITING = Bar(words="frames waiting", high=0.5, face=SERIES[2], edge=SERIES[2])
_NARROW_STEPS = 4
"""Between instants on a narrow axis: those late in a long start have seven digits."""
_FEW_FRAMES = 3
"""Fill that is drawn as high as can be, unless there is more."""
_EFFECTS = {
    "fresh": Mark(
        words="fresh value in effect", marker="^", at=_EFFECT, colour=INK, px=6, is_filled=True
    ),
    "again": Mark(words="pulse repeats", marker="_", at=_EFFECT, colour=QUIET, px=6),
    "not live": Mark(
        words="failsafe or start-up", marker="s", at=_EFFECT, colour=BAD, px=4.5, is_filled=True
    ),
}

Piece = tuple[Bar | Mark, tuple[Span, ...]]


def keys(data: StripData) -> tuple[str, ...]:
    """The words that its key explains, each once."""
    found = [look.words for lane in data.lanes for look, spans in pieces(lane) if spans]
    ticks = [_BEGINS for lane in data.lanes if lane.kind == "passes" and lane.spans]
    return tuple(dict.fromkeys(found + ticks))


def paint(canvas: Canvas, data: StripData) -> None:
    """The lanes, one below the other, and the key."""
    (axes,) = canvas.axes()
    count = len(data.lanes)
    for number, lane in enumerate(data.lanes):
        base = count - 1 - number
        axes.axhline(base, color=LINE, lw=0.8, zorder=0)
        axes.annotate(
            short(lane.name),
            (0, base + 0.9),
            xycoords=("axes fraction", "data"),
            va="top",
            ha="left",
            xytext=(2, 0),
            textcoords="offset points",
        )
        for look, spans in pieces(lane):
            if isinstance(look, Bar):
                _bars(canvas, look, spans, base, SERIES[number % len(SERIES)])
            else:
                _marks(canvas, look, _apart(canvas, data, look, spans), base)
        if lane.kind == "passes":
            _ticks(canvas, lane, base)
    axes.set_ylim(-0.15, count)
    axes.set_xlim(data.from_ms, data.to_ms)
    if canvas.is_narrow:
        from matplotlib.ticker import MaxNLocator

        axes.xaxis.set_major_locator(MaxNLocator(_NARROW_STEPS))
    axes.set_yticks([])
    axes.spines["left"].set_visible(False)
    axes.set_xlabel("time in the start, ms")
    canvas.key()


def pieces(lane: Lane) -> Iterator[Piece]:
    """What is drawn of a lane, later ones above earlier ones."""
    yield _DOWN, lane.down
    match lane.kind:
        case "transmitter":
            for fate, bar in ATTEMPTS.items():
                yield bar, _some(lane.spans, fate)
            yield _NOTHING, _some(lane.spans, *LOST)
            for fate, mark in LOST.items():
                yield mark, _some(lane.spans, fate)
            yield _TAKEN, _some(lane.acknowledgements, "taken")
            yield _MISSED, tuple(span for span in lane.acknowledgements if span.fate != "taken")
        case "radio":
            for fate, bar in _RADIO.items():
                yield bar, _some(lane.spans, fate)
            yield _MISSED, _some(lane.spans, UNHEARD)
        case "passes":
            yield _READS, tuple(span for span in lane.spans if span.fate != IDLE)
        case "fifo":
            yield _WAITING, lane.spans
        case _:
            for fate, mark in _EFFECTS.items():
                yield mark, _some(lane.spans, fate)


def _some(spans: tuple[Span, ...], *fates: str) -> tuple[Span, ...]:
    return tuple(span for span in spans if span.fate in fates)


def _bars(canvas: Canvas, bar: Bar, spans: tuple[Span, ...], base: int, own: str) -> None:
    """Bars; of the FIFO, as high as frames wait."""
    if not spans:
        return
    high: float | list[float] = bar.high
    if bar is _WAITING:
        fills = [int(span.fate) for span in spans]
        high = [bar.high * fill / max(*fills, _FEW_FRAMES) for fill in fills]
    canvas.panels[0].bar(
        [span.start_ms for span in spans],
        high,
        [span.end_ms - span.start_ms for span in spans],
        base,
        align="edge",
        label=bar.words,
        facecolor=bar.face or own,
        edgecolor=bar.edge or own,
        hatch=bar.hatch,
        lw=1,
    )


def _apart(canvas: Canvas, data: StripData, mark: Mark, spans: tuple[Span, ...]) -> list[float]:
    """Middles of spans, ms, but for those whose mark would lie on the one before."""
    ms_a_px = (data.to_ms - data.from_ms) / canvas.width_px
    kept: list[float] = []
    for middle_ms in sorted((span.start_ms + span.end_ms) / 2 for span in spans):
        if not kept or middle_ms - kept[-1] >= _CLEAR * mark.px * ms_a_px:
            kept.append(middle_ms)
    return kept


def _marks(canvas: Canvas, mark: Mark, middles_ms: list[float], base: int) -> None:
    if middles_ms:
        canvas.panels[0].plot(
            middles_ms,
            [base + mark.at] * len(middles_ms),
            ls="",
            marker=mark.marker,
            ms=mark.px,
            color=mark.colour,
            mfc=mark.colour if mark.is_filled else "none",
            mew=1.4 if mark.colour == BAD else 1,
            label=mark.words,
        )


def _ticks(canvas: Canvas, lane: Lane, base: int) -> None:
    """A low tick where a pass begins, a high one where it reads; one path, which is short."""
    xs = [x for span in lane.spans for x in (span.start_ms, span.start_ms, math.nan)]
    ys = [
        y
        for span in lane.spans
        for y in (base, base + (_TICK if span.fate == IDLE else 0.5), math.nan)
    ]
    if lane.spans:
        axes = canvas.panels[0]
        axes.plot(xs, ys, color=INK, lw=0.8)
        axes.plot([], [], ls="", marker="|", ms=9, color=INK, label=_BEGINS)
