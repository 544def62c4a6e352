"""What the first screen of a run leaves out: where every frame ended, why attempts failed,
spreads."""

from collections.abc import Callable, Iterable, Iterator, Sequence

from radiosim.assess.verdict import RULES
from radiosim.measure.summary import Distribution, Gaps, ReceiverFigures, StreamFigures, Summary
from radiosim.results.document import Column, Section, Sentence, Table
from radiosim.results.formats import (
    duration_text,
    fmt_count,
    fmt_percent,
    fmt_range,
    fmt_sig3,
)
from radiosim.scenario import Scenario
from radiosim.scenario.traffic import retries

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
        where="screen",
        is_folded=True,
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
            Column(key="radio", title="radio alone", unit="mAh an hour"),
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
