"""One start at a glance, drawn with letters: when values came, and the gaps between them."""

import math
from collections.abc import Callable, Iterable, Iterator, Sequence

import numpy as np

from radiosim.assess.answers import RULES
from radiosim.errors import printable
from radiosim.findings.rules import RULES as FINDING_RULES
from radiosim.measure.intervals import FEWEST_WEIGHTED
from radiosim.measure.summary import Distribution, Gaps, ReceiverFigures, StreamFigures, Summary
from radiosim.results.document import Column, Section, Sentence, Table
from radiosim.results.formats import duration_text, fmt_count, fmt_percent, fmt_range, fmt_sig3
from radiosim.scenario import Scenario
from radiosim.scenario.traffic import retries
from radiosim.trace import Trace, value_reads
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
    reads = value_reads(trace, stream)
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
    reads = value_reads(trace, stream)
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


_ENDS: tuple[tuple[str, str], ...] = (
    ("sampled", "sampled"),
    ("read", "read"),
    ("waiting in the receiver's FIFO", "waiting"),
    ("thrown away there", "thrown_away"),
    ("sent, never accepted", "never_accepted"),
    ("skipped, radio busy", "skipped"),
    ("replaced by a newer one", "replaced"),
    ("transmitter's FIFO full", "queue_full"),
    ("transmitter's power cut", "power_cut"),
    ("still under way", "under_way"),
)
_ATTEMPTS: tuple[tuple[str, str], ...] = (
    ("attempts", "attempts"),
    ("new to the receiver", "received_new"),
    ("duplicate", "duplicates"),
    ("receiver's FIFO full", "fifo_dropped"),
    ("cut short with its transmitter", "lost_cut"),
    ("lost: receiver off", "lost_off"),
    ("lost: out of range", "lost_range"),
    ("lost: receiver deaf", "lost_deaf"),
    ("lost: collision", "lost_collision"),
    ("lost: by chance", "lost_chance"),
    ("acknowledged frames", "acknowledged"),
    ("retries used up, times", "retries_used_up"),
    ("acknowledgements lost", "acknowledgements_lost"),
)
_STREAM_SPREADS: tuple[tuple[str, Callable[[StreamFigures], Distribution | Gaps]], ...] = (
    ("latency, sample to read", lambda stream: stream.latency_ms),
    ("gap between values", lambda stream: stream.gap_ms),
    ("age of the newest value", lambda stream: stream.age_ms),
)
_PARTS = ("mean", "median", "p95", "p99", "longest")
Spreads = Iterable[tuple[str, str, Distribution | Gaps]]


def more_sections(summary: Summary, scenario: Scenario) -> Iterator[Section]:
    """All further figures, in the order in which questions come."""
    tables = (
        _counts(summary, "frames", "Where every frame ended", _ENDS),
        _counts(summary, "attempts", "What became of every attempt", _ATTEMPTS),
        _shares(summary),
        _spreads("stream_times", "Times of streams", _of_streams(summary)),
        *_output_spreads(summary),
        _charges(summary),
    )
    yield Section(heading="All figures", tables=tables, is_more=True)
    yield Section(
        heading="Retries",
        sentences=tuple(Sentence(text=text, lead=name) for name, text in retries(scenario)),
        is_more=True,
    )
    air = summary.figures.air
    text = f"Busy {fmt_percent(air.occupancy)} of the time, {fmt_count(air.collisions)} collisions."
    yield Section(heading="Air", sentences=(text,), is_more=True)
    yield _terms(summary)
    yield Section(
        heading="Verdicts",
        sentences=tuple(Sentence(text=rule, form="item") for rule in RULES),
        is_more=True,
    )
    yield Section(
        heading="Findings",
        sentences=tuple(Sentence(text=rule, form="item") for rule in FINDING_RULES),
        is_more=True,
    )


def _counts(summary: Summary, key: str, caption: str, lines: Sequence[tuple[str, str]]) -> Table:
    """A column a stream, a row a count."""
    streams = summary.figures.stream
    return Table(
        key=key,
        caption=caption,
        columns=(
            Column(key="count", is_text=True),
            *(Column(key=f"stream.{name}", title=name, priority=1) for name in streams),
        ),
        rows=tuple(
            (label, *(getattr(stream, field) for stream in streams.values()))
            for label, field in lines
        ),
        where="screen",
        is_folded=True,
    )


def _shares(summary: Summary) -> Table:
    several = summary.start is None
    intervals = (
        Column(key="read_ci", title="95 %", show=_percent_range, priority=2),
        Column(key="rate_ci", title="update rate, 95 %", unit="/s", show=fmt_range, priority=2),
        Column(key="attempts_ci", title="attempts, 95 %", show=fmt_range, priority=3),
    )
    return Table(
        key="shares",
        caption="Shares, with intervals of 95 % over starts" if several else "Shares",
        columns=(
            Column(key="stream", is_text=True),
            Column(key="read", title="read of those sampled", show=fmt_percent),
            Column(key="attempts", title="attempts a frame"),
            Column(key="duty", title="duty cycle", show=fmt_percent),
            *(intervals if several else ()),
        ),
        rows=tuple(
            (
                name,
                stream.delivery_ratio,
                stream.attempts_per_frame,
                stream.duty_cycle,
                *(_intervals(stream) if several else ()),
            )
            for name, stream in summary.figures.stream.items()
        ),
        note=_without_intervals(summary) if several else "",
        where="screen",
        is_folded=True,
    )


def _without_intervals(summary: Summary) -> str:
    """Why shares have no interval, where they have none; nothing: they have."""
    if all(stream.delivery_ratio_ci95 is not None for stream in summary.figures.stream.values()):
        return ""
    return (
        f"Where some starts are placed on beats, fewer than {FEWEST_WEIGHTED} have no interval of "
        "a share."
    )


def _intervals(stream: StreamFigures) -> tuple[tuple[float, float] | None, ...]:
    found = (
        stream.delivery_ratio_ci95,
        stream.update_rate_hz_ci95,
        stream.attempts_per_frame_ci95,
    )
    return tuple(interval if isinstance(interval, tuple) else None for interval in found)


def _percent_range(ends: tuple[float, float]) -> str:
    return fmt_range(ends, show=fmt_percent)


def _charges(summary: Summary) -> Table:
    units: dict[str, StreamFigures | ReceiverFigures] = {
        **summary.figures.stream,
        "receiver": summary.figures.receiver,
    }
    return Table(
        key="charge",
        caption="Charge",
        columns=(
            Column(key="unit", is_text=True),
            Column(key="radio", title="radio alone", unit="mAh an hour", nothing="not known"),
            Column(key="cell", title="cell lasts", unit="hours"),
        ),
        rows=tuple(
            (name, unit.charge_mah_per_hour, unit.battery_h) for name, unit in units.items()
        ),
        where="screen",
        is_folded=True,
    )


def _of_streams(summary: Summary) -> Spreads:
    for name, stream in summary.figures.stream.items():
        for label, spread in _STREAM_SPREADS:
            yield name, label, spread(stream)


def _output_spreads(summary: Summary) -> Iterator[Table]:
    outputs = summary.figures.output
    times: list[tuple[str, str, Distribution | Gaps]] = [
        row
        for name, output in outputs.items()
        for row in (
            (name, "latency, sample to effect", output.latency_ms),
            (name, "age of the value in effect", output.age_ms),
        )
    ]
    errors = [
        (name, "off", output.servo_error_deg)
        for name, output in outputs.items()
        if output.servo_error_deg is not None
    ]
    if times:
        yield _spreads("output_times", "Times of outputs", times)
    if errors:
        caption = "Degrees between where the hand points and where the servo stands"
        yield _spreads("servo_errors", caption, errors, fmt_sig3)


def _spreads(
    key: str, caption: str, rows: Spreads, show: Callable[[float], str] = duration_text
) -> Table:
    return Table(
        key=key,
        caption=caption,
        columns=(
            Column(key="of", is_text=True),
            Column(key="what", is_text=True),
            *(Column(key=part, title=part, show=show, priority=1) for part in _PARTS),
        ),
        rows=tuple((name, what, d.mean, d.median, d.p95, d.p99, d.max) for name, what, d in rows),
        group_by="of",
        where="screen",
        is_folded=True,
    )


def _terms(summary: Summary) -> Section:
    """What the bounds of failsafe reaction times are made of."""
    return Section(
        heading="What the longest failsafe reaction time is made of",
        sentences=tuple(
            Sentence(
                text=" + ".join(
                    f"{term} {duration_text(ms)}" for term, ms in reaction.terms_ms.items()
                ),
                lead=name,
            )
            for name, reaction in summary.reaction.items()
            if reaction.terms_ms
        ),
        is_more=True,
    )
