"""What the first screen leaves out: where every frame ended, why attempts failed, spreads."""

from collections.abc import Callable, Iterable, Iterator

from rich.console import RenderableType
from rich.text import Text

from radiosim.measure.summary import (
    Distribution,
    Gaps,
    OutputFigures,
    ReceiverFigures,
    StreamFigures,
    Summary,
)
from radiosim.report.terminal.parts import block, hanging, table
from radiosim.report.terminal.verdict import RULE
from radiosim.report.terminal.words import between, digits, share, whole
from radiosim.scenario import Scenario
from radiosim.scenario.traffic import retries

_ENDS: tuple[tuple[str, Callable[[StreamFigures], int]], ...] = (
    ("sampled", lambda s: s.sampled),
    ("  read", lambda s: s.read),
    ("  waiting in the FIFO", lambda s: s.waiting),
    ("  thrown away there", lambda s: s.thrown_away),
    ("  sent, never accepted", lambda s: s.never_accepted),
    ("  skipped, radio busy", lambda s: s.skipped),
    ("  replaced by a newer one", lambda s: s.replaced),
    ("  transmitter's FIFO full", lambda s: s.queue_full),
    ("  transmitter's power cut", lambda s: s.power_cut),
    ("  still under way", lambda s: s.under_way),
)
_ATTEMPTS: tuple[tuple[str, Callable[[StreamFigures], int]], ...] = (
    ("attempts", lambda s: s.attempts),
    ("  new to the receiver", lambda s: s.received_new),
    ("  duplicate", lambda s: s.duplicates),
    ("  receiver's FIFO full", lambda s: s.fifo_dropped),
    ("  cut short with its transmitter", lambda s: s.lost_cut),
    ("  lost: receiver off", lambda s: s.lost_off),
    ("  lost: out of range", lambda s: s.lost_range),
    ("  lost: receiver deaf", lambda s: s.lost_deaf),
    ("  lost: collision", lambda s: s.lost_collision),
    ("  lost: by chance", lambda s: s.lost_chance),
    ("acknowledged frames", lambda s: s.acknowledged),
    ("given up, times", lambda s: s.retries_used_up),
    ("acknowledgements lost", lambda s: s.acknowledgements_lost),
)
_SHARES: tuple[tuple[str, Callable[[StreamFigures], str]], ...] = (
    ("read of those sampled", lambda s: share(s.delivery_ratio)),
    ("attempts a frame", lambda s: digits(s.attempts_per_frame)),
    ("share of air time", lambda s: share(s.duty_cycle)),
)
_SPREAD = ("mean", "median", "95 of\n100", "99 of\n100", "longest")


def more(summary: Summary, scenario: Scenario) -> Iterator[RenderableType]:
    """All further figures, in the order in which questions come."""
    yield _counts(summary, "Where every frame ended", _ENDS)
    yield _counts(summary, "What became of every attempt", _ATTEMPTS)
    rows = [(f"  {name}", text) for name, text in retries(scenario)]
    yield block("Retries", hanging(rows))
    yield _shares(summary)
    yield _stream_spreads(summary)
    yield from _output_spreads(summary)
    yield from _servo_errors(summary)
    yield _charges(summary)
    air = summary.figures.air
    text = f"  busy {share(air.occupancy)} of the time, {whole(air.collisions)} collisions"
    yield block("Air", Text(text))
    yield from _bounds(summary)
    yield block("Verdicts", Text(RULE))


def _counts(
    summary: Summary, title: str, lines: tuple[tuple[str, Callable[[StreamFigures], int]], ...]
) -> RenderableType:
    streams = summary.figures.stream
    rows = [[label, *(whole(count(s)) for s in streams.values())] for label, count in lines]
    return block(title, table(["", *streams], rows))


def _shares(summary: Summary) -> RenderableType:
    streams = summary.figures.stream
    rows = [[label, *(text(s) for s in streams.values())] for label, text in _SHARES]
    intervals = [
        (
            f"  {name}",
            f"{digits(s.update_rate_hz)}{between(s.update_rate_hz_ci95)} fresh values a second, "
            f"share read {digits(s.delivery_ratio)}{between(s.delivery_ratio_ci95)}, "
            f"attempts a frame {digits(s.attempts_per_frame)}{between(s.attempts_per_frame_ci95)}",
        )
        for name, s in streams.items()
        if isinstance(s.update_rate_hz_ci95, tuple)
    ]
    note = [Text("With intervals of 95 % over starts:", style="dim")] if intervals else []
    return block("Shares", table(["", *streams], rows), *note, hanging(intervals))


def _charges(summary: Summary) -> RenderableType:
    figures = summary.figures
    units: dict[str, StreamFigures | ReceiverFigures] = {
        **figures.stream,
        "receiver": figures.receiver,
    }
    rows = [["radio alone, mAh an hour", *(digits(u.charge_mah_per_hour) for u in units.values())]]
    if any(unit.battery_h is not None for unit in units.values()):
        rows.append(["cell lasts, hours", *(digits(unit.battery_h) for unit in units.values())])
    return block("Charge", table(["", *units], rows))


def _spread_rows(figures: Iterable[tuple[str, Distribution | Gaps]]) -> list[list[str]]:
    return [[label, *map(digits, (d.mean, d.median, d.p95, d.p99, d.max))] for label, d in figures]


def _stream_spreads(summary: Summary) -> RenderableType:
    rows = [
        (f"{name}: {label}", spread(stream))
        for name, stream in summary.figures.stream.items()
        for label, spread in _STREAM_SPREADS
    ]
    return block("Times of streams, ms", table(("", *_SPREAD), _spread_rows(rows)))


_STREAM_SPREADS: tuple[tuple[str, Callable[[StreamFigures], Distribution | Gaps]], ...] = (
    ("delay from sample to read", lambda s: s.latency_ms),
    ("wait between values", lambda s: s.gap_ms),
    ("age of the newest value", lambda s: s.age_ms),
)
_OUTPUT_SPREADS: tuple[tuple[str, Callable[[OutputFigures], Distribution | Gaps]], ...] = (
    ("delay from sample to effect", lambda o: o.latency_ms),
    ("age of the value in effect", lambda o: o.age_ms),
)


def _output_spreads(summary: Summary) -> Iterator[RenderableType]:
    rows = [
        (f"{name}: {label}", spread(output))
        for name, output in summary.figures.output.items()
        for label, spread in _OUTPUT_SPREADS
    ]
    if rows:
        yield block("Times of outputs, ms", table(("", *_SPREAD), _spread_rows(rows)))


def _servo_errors(summary: Summary) -> Iterator[RenderableType]:
    rows = [
        (name, output.servo_error_deg)
        for name, output in summary.figures.output.items()
        if output.servo_error_deg is not None
    ]
    if rows:
        title = "Servos behind the hand, degrees"
        yield block(title, table(("", *_SPREAD[:-1], "most"), _spread_rows(rows)))


def _bounds(summary: Summary) -> Iterator[RenderableType]:
    rows = [
        (f"  {name}", " + ".join(f"{term} {digits(ms)}" for term, ms in stopping.terms_ms.items()))
        for name, stopping in summary.stopping.items()
        if stopping.terms_ms
    ]
    if rows:
        yield block("What the longest time until failsafe is made of, ms", hanging(rows))
