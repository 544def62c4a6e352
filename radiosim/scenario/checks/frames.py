"""Layouts, the signals that feed them, and padded lengths."""

from collections.abc import Iterator

from radiosim.layout import Field, Layout
from radiosim.scenario.checks.references import unknown
from radiosim.scenario.checks.view import Found, View
from radiosim.scenario.paths import listed, nearest
from radiosim.scenario.structs.transmitter import TransmitterTable
from radiosim.signals import Counter, Csv, Signal, Span
from radiosim.signals.counter import can_count
from radiosim.units import ns_from_ms


def problems(view: View) -> Iterator[Found]:
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
