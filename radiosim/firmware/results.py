"""What trying a receiver's program on some starts has shown; the names are those of JSON."""

from collections.abc import Mapping
from typing import Literal

from msgspec import Struct

ProgramVerdict = Literal["HELD", "NOT HELD", "NOT JUDGED"]
SpanKind = Literal["pulse", "level", "failsafe"]


class ProgramSpan(Struct, frozen=True, kw_only=True):
    """A time in which the program differed from the prediction for longer than the tolerance."""

    start: int
    output: str
    """Its name, or "failsafe of" a stream."""
    at_s: float
    for_s: float
    fault: str
    """The fault of the scenario that it began in, or soon after; empty: none."""
    predicted: float | None
    """A pulse in us, or a level; None: no pulses. Of failsafe: 1 on, 0 off, 2 no program runs."""
    real: float | None
    kind: SpanKind
    is_judged: bool
    """Whether it was: near the end of a count of the clock this machine's own widths decide."""
    danger: int = 0
    """What the output moves; 0: motors, blades and tracks."""
    runs_on: bool = False
    """It was driven where it was predicted to stand still, or to have no pulses."""


class ProgramOutput(Struct, frozen=True, kw_only=True):
    """An output over all starts."""

    name: str
    changes: int
    """Changes that were predicted."""
    most_changes: int
    """Of them in one start."""
    moves: bool
    """Whether more than one level was predicted in some start, no pulses at all aside."""
    spans: int
    """Spans that were longer than the tolerance."""
    longest_s: float
    short_spans: int
    longest_short_ms: float


class ProgramRead(Struct, frozen=True, kw_only=True):
    """The first frame that was not read when it was predicted."""

    start: int
    stream: str
    predicted_s: float | None
    """None: not at all."""
    real_s: float | None


class ProgramEnd(Struct, frozen=True, kw_only=True):
    """A start that the program did not get through."""

    start: int
    at_s: float
    text: str


class ProgramTime(Struct, frozen=True, kw_only=True):
    """A span of a whole firmware, measured on the emulated chip."""

    name: str
    count: int
    mean_us: float
    least_us: float
    most_us: float


class ProgramDrill(Struct, frozen=True, kw_only=True):
    """One kind of fault of one unit, over its phases."""

    fault: str
    unit: str
    faults: int
    verdict: ProgramVerdict
    starts_held: int
    starts: int
    frames: int
    """That stood in the receiver's FIFO, in all its starts."""
    read_elsewhere: ProgramRead | None
    """Of its worst start, as are the next two."""
    ended: ProgramEnd | None
    span: ProgramSpan | None
    """The worst that differs."""
    unstopped: Mapping[str, str] = {}
    """Outputs that nothing bounds at this fault, and why: what is as predicted is not safe."""


class ProgramResults(Struct, frozen=True, kw_only=True):
    """A receiver's own program beside the prediction."""

    scenario: str
    on: str
    """What it ran on: host, core or chip."""
    sources: tuple[str, ...]
    stamp: str
    """Of the settings that it was built with; empty: a whole firmware does not tell."""
    verdict: ProgramVerdict
    ok: bool
    starts: int
    duration_s: float
    clock_from_ms: int
    frames: int
    """That stood in the receiver's FIFO."""
    reads_as_predicted: int
    tolerance_ms: float
    read_elsewhere: ProgramRead | None
    ended: tuple[ProgramEnd, ...]
    outputs: tuple[ProgramOutput, ...]
    failsafe: tuple[ProgramOutput, ...]
    """Of each stream of whose failsafe the program told."""
    spans: tuple[ProgramSpan, ...]
    drills: tuple[ProgramDrill, ...] | None
    """None: they were not asked for."""
    notes: tuple[str, ...]
    measured: tuple[str, ...] = ()
    """KEY=VALUE of the scenario that were measured, and that the prediction was made with."""
    times: tuple[ProgramTime, ...] = ()
    """What was measured, by the firmware's own clock."""

    @property
    def worst_span(self) -> ProgramSpan | None:
        """The span that can do most harm; of those alike the longest."""
        return max(self.spans, key=harm_of, default=None)

    @property
    def badness(self) -> tuple[int, float]:
        """Orders results: the worse, the higher."""
        span = self.worst_span
        rank = ("HELD", "NOT JUDGED", "NOT HELD").index(self.verdict)
        return rank, span.for_s if span is not None else 0.0


def weight_of(span: ProgramSpan) -> tuple[bool, bool, float]:
    """Orders spans: what tells most is the highest."""
    return span.is_judged, span.kind != "failsafe", span.for_s


_BRIEF_S = 0.1
"""Shorter spans of a motor that runs on count as any other."""


def harm_of(span: ProgramSpan) -> tuple[bool, bool, bool, int, float]:
    """Orders spans: judged, of outputs, driven when it should stand, motors, and the longest."""
    drives = span.runs_on and span.for_s >= _BRIEF_S
    return span.is_judged, span.kind != "failsafe", drives, -span.danger, span.for_s
