"""Checks of each unit: pacing, work and deaf spans, layouts and signals."""

from collections.abc import Iterator

from radiosim.layout import Field, Layout
from radiosim.radio.profiles import MOST_SUPPLY_V, least_transmit_ma
from radiosim.scenario.checks.view import Found, View, unknown
from radiosim.scenario.key_paths import Path, listed, nearest
from radiosim.scenario.structs.receiver_table import Receiver
from radiosim.scenario.structs.shared_keys import Deaf, Work
from radiosim.scenario.structs.transmitter_table import TransmitterTable
from radiosim.signals import Counter, Csv, Signal, Span
from radiosim.signals.formulas import can_count
from radiosim.units import ns_from_ms

SHORTEST_MS = 0.001
"""Shortest pass: a microsecond."""
MOST_BUSY = 0.99
"""Share of the time; a program with less than the rest hardly ever gets on."""


def problems_of_spans(
    path: Path, spans: tuple[Work | Deaf, ...], length_key: str
) -> Iterator[Found]:
    """Spans longer than their spacing, or that leave no time between them all."""
    busy = 0.0
    for number, span in enumerate(spans):
        length_ms, longest_key = getattr(span, length_key), length_key
        if isinstance(span, Work) and span.longest_ms is not None:
            longest_key = "longest_ms"
            if span.longest_ms <= length_ms:
                yield (
                    (*path, number, longest_key),
                    f"must be longer than takes_ms ({length_ms:g}), got {span.longest_ms:g}",
                )
                return
            length_ms = span.longest_ms
        busy += length_ms / span.every_ms
        if length_ms >= span.every_ms:
            yield (
                (*path, number, longest_key),
                f"must be shorter than every_ms ({span.every_ms:g}), got {length_ms:g}",
            )
            return
    if busy > MOST_BUSY:
        yield (
            path,
            f"must leave at least {1 - MOST_BUSY:.0%} of the time for the rest, "
            f"got {length_key} of {100 * busy:.4g}% in all",
        )


def transmitter_problems(view: View) -> Iterator[Found]:
    """Keys of the transmitters that contradict each other."""
    for name, unit in view.file.transmitter.items():
        path = ("transmitter", name)
        for key, text in _of_pacing(unit):
            yield (*path, key), text
        yield from _of_amplifier(view, path, unit)
        yield from problems_of_spans((*path, "work"), unit.work, "takes_ms")
        if unit.start_s >= view.file.duration_s:
            yield (
                (*path, "start_s"),
                f"must be < duration_s ({view.file.duration_s:g}), got {unit.start_s:g}",
            )


def _of_amplifier(view: View, path: Path, unit: TransmitterTable | Receiver) -> Iterator[Found]:
    """An amplifier that would draw less than it radiates."""
    if unit.amplifier_ma is None or view.profile is None:
        return
    radio_ma = max((ma for _, ma in view.profile.transmit_ma), default=0.0)
    least_ma = least_transmit_ma(unit.power_dbm) - radio_ma
    if unit.amplifier_ma < least_ma:
        yield (
            (*path, "amplifier_ma"),
            f"must be >= {least_ma:.4g} at {unit.power_dbm:g} dBm (more would be radiated than "
            f"is drawn, even at {MOST_SUPPLY_V:g} V), got {unit.amplifier_ma:g}",
        )


def _of_pacing(unit: TransmitterTable) -> Iterator[tuple[str, str]]:
    needed, refused = ("period_ms", "pause_ms")
    if unit.pacing == "after_send":
        needed, refused = refused, needed
    if getattr(unit, needed) is None:
        yield needed, f"must be given with pacing = {unit.pacing!r}"
    if (value := getattr(unit, refused)) is not None:
        yield refused, f"must be left out with pacing = {unit.pacing!r}, got {value:g}"
    period_ms = unit.period_ms
    if unit.pacing != "timer" and unit.dither_ms:
        yield (
            "dither_ms",
            f"must be 0 with pacing = {unit.pacing!r} (periods are drawn by a timer), "
            f"got {unit.dither_ms:g}",
        )
    if unit.pacing == "after_send" or period_ms is None:
        return
    if unit.pacing == "elapsed" and unit.jitter_ms:
        yield (
            "jitter_ms",
            f"must be 0 with pacing = 'elapsed', whose lateness adds up, got {unit.jitter_ms:g}",
        )
    elif unit.jitter_ms >= period_ms:
        yield "jitter_ms", f"must be < period_ms ({period_ms:g}), got {unit.jitter_ms:g}"
    elif unit.pacing == "timer" and unit.dither_ms + unit.jitter_ms >= period_ms:
        late = f" less jitter_ms ({unit.jitter_ms:g})" if unit.jitter_ms else ""
        yield "dither_ms", f"must be < period_ms ({period_ms:g}){late}, got {unit.dither_ms:g}"


def receiver_problems(view: View) -> Iterator[Found]:
    """Passes of no length, and spans that leave no time."""
    receiver = view.file.receiver
    if receiver.loop_ms + receiver.delay_ms < SHORTEST_MS:
        yield (
            ("receiver", "loop_ms"),
            f"must be >= {SHORTEST_MS} together with delay_ms (a pass takes time), "
            f"got {receiver.loop_ms + receiver.delay_ms:g}",
        )
    yield from _of_amplifier(view, ("receiver",), receiver)
    yield from problems_of_spans(("receiver", "work"), receiver.work, "takes_ms")
    yield from problems_of_spans(("receiver", "deaf"), receiver.deaf, "for_ms")


def frame_problems(view: View) -> Iterator[Found]:
    """Layouts that cannot be, or do not fit what they carry."""
    yield from view.layout_problems
    for name, unit in view.file.transmitter.items():
        yield from _of_choice(view, name, unit)
        layout = view.streams.get(name)
        if layout is not None:
            yield from _of_length(view, name, unit, layout)
            yield from _of_signals(name, unit, layout)


def _of_choice(view: View, name: str, unit: TransmitterTable) -> Iterator[Found]:
    path = ("transmitter", name, "layout")
    if unit.layout is None:
        if unit.payload_bytes is None:
            yield path, "must be given, or payload_bytes for frames of that length"
    elif unit.payload_bytes is not None:
        yield path, "must be left out where payload_bytes is given, or payload_bytes left out"
    elif unit.layout not in view.file.layout:
        yield from unknown(path, "the name of a layout", unit.layout, view.file.layout)


def _of_length(view: View, name: str, unit: TransmitterTable, layout: Layout) -> Iterator[Found]:
    """Rule B7: a frame is padded, never cut."""
    size = layout.size_bytes
    length: int | str = unit.payload_length
    path: tuple[str, ...] = ("transmitter", name, "payload_length")
    if length == "link":
        length, path = view.file.radio.payload_length, ("radio", "payload_length")
    if isinstance(length, int) and length < size:
        yield path, f"must be >= {size} (the frames of transmitter.{name}), got {length}"


def span_of(field: Field) -> Span:
    """What a signal needs to know of its field."""
    return Span(
        minimum=field.minimum,
        maximum=field.maximum,
        neutral=field.neutral,
        steps=field.steps,
        scale=field.scale,
    )


def _of_signals(name: str, unit: TransmitterTable, layout: Layout) -> Iterator[Found]:
    fields = {field.name: field for field in layout.fields}
    for key, signal in unit.signals.items():
        path = ("transmitter", name, "signals", key)
        if key not in fields:
            hint = nearest(key, fields)
            yield path, f"must be a field of transmitter.{name} ({listed(fields)}){hint}"
            continue
        if signal.every_ms and ns_from_ms(signal.every_ms) < 1_000:
            yield (*path, "every_ms"), f"must be 0 or >= 0.001, got {signal.every_ms:g}"
        if isinstance(signal, Csv) and not signal.points:
            continue
        yield from _of_fit(path, fields[key], signal)


def _of_fit(path: tuple[str, ...], field: Field, signal: Signal) -> Iterator[Found]:
    span = span_of(field)
    if isinstance(signal, Counter) and not can_count(span):
        held = "a float" if field.kind == "float" else "numbers that a double does not tell apart"
        yield (
            path,
            "must be of another kind: a counter needs whole numbers that count in exact steps, "
            f"{field.name} holds {held}",
        )
        return
    low, high = signal.extremes(span)
    slack = 1e-9 * max(abs(field.minimum), abs(field.maximum))
    # Differences, since the ends of a wide float leave no room for a sum.
    if field.minimum - low > slack or high - field.maximum > slack:
        yield (
            path,
            f"must stay inside {field.name}'s range, {field.minimum:g} to {field.maximum:g}, "
            f"got {low:g} to {high:g}",
        )
