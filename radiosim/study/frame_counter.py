"""A counter in a stream's frames: which field counts, and how one is added where none does."""

from collections.abc import Iterable, Iterator

from radiosim.layout import LONGEST_PAYLOAD_BYTES
from radiosim.layout.field import Field, is_spare, is_version
from radiosim.scenario import Scenario
from radiosim.scenario.checks.unit_checks import span_of
from radiosim.signals import Constant, Counter
from radiosim.signals.formulas import can_count

_LEAST_SPARE_BYTES = 3
"""Of a frame of plain bytes that has one for a counter."""
_COUNTS = '{ kind = "counter" }'


def counter_lines(scenario: Scenario, stream: str) -> tuple[tuple[str, ...], str]:
    """Lines that put a counter in a stream's frames, and its name: in a spare field, else in a byte
    more.

    No lines: it has one. No name: it has none, and no line can add it.
    """
    unit, layout = scenario.transmitter[stream], scenario.layout_of(stream)
    for name, signal in unit.signals.items():
        if isinstance(signal, Counter) and not signal.every_ms:
            return (), name
    spare = next((field for field in layout.fields if _is_free(scenario, stream, field)), None)
    if spare is not None:
        return tuple(_counting((stream,), spare.name)), spare.name
    if unit.payload_bytes is None and scenario.layout[unit.layout].header:
        return (), ""
    size, users, grown, name = _a_byte_more(scenario, stream)
    if size > LONGEST_PAYLOAD_BYTES:
        return (), ""
    return (*grown, *_room(scenario, users, size)), name


def _a_byte_more(
    scenario: Scenario, stream: str
) -> tuple[int, tuple[str, ...], tuple[str, ...], str]:
    """A frame with room for a counter: its size, who sends such frames, the lines, the counter."""
    unit, layout = scenario.transmitter[stream], scenario.layout_of(stream)
    if unit.payload_bytes is not None:
        size = max(_LEAST_SPARE_BYTES, unit.payload_bytes + 1)
        name = f"spare_{size - 2}"
        grown = f"transmitter.{stream}.payload_bytes={size}"
        return size, (stream,), (grown, *_counting((stream,), name)), name
    taken = {field.name for field in layout.fields}
    name = next(name for name in _counter_names() if name not in taken)
    users = tuple(key for key, one in scenario.transmitter.items() if one.layout == unit.layout)
    grown = f'layout.{unit.layout}.fields[{len(layout.fields)}]={{ name = "{name}", type = "u8" }}'
    return layout.size_bytes + 1, users, (grown, *_counting(users, name)), name


def _counting(users: Iterable[str], name: str) -> Iterator[str]:
    return (f"transmitter.{user}.signals.{name}={_COUNTS}" for user in users)


def _room(scenario: Scenario, users: Iterable[str], size: int) -> Iterator[str]:
    """Lines that make fixed lengths as long as frames have become."""
    lengths: list[tuple[str, int | str]] = [("radio", scenario.radio.payload_length)]
    lengths += [
        (f"transmitter.{user}", scenario.transmitter[user].payload_length) for user in users
    ]
    for table, length in lengths:
        if isinstance(length, int) and length < size:
            yield f"{table}.payload_length={size}"


def _is_free(scenario: Scenario, stream: str, field: Field) -> bool:
    """Whether a field is called spare, stands still, can count, and nothing looks at it.

    What a frame of plain bytes says in them is not known, so none is free.
    """
    unit = scenario.transmitter[stream]
    signal = unit.signals[field.name]
    return (
        unit.payload_bytes is None
        and is_spare(field.name)
        and isinstance(signal, Constant)
        and can_count(span_of(field))
        and field.name not in _looked_at(scenario, stream)
    )


def _looked_at(scenario: Scenario, stream: str) -> frozenset[str]:
    """Fields that an output or the failsafe of a stream looks at."""
    outputs = (output for output in scenario.output.values() if output.stream == stream)
    found = {field for output in outputs for field in output.mix}
    failsafe = scenario.failsafe.get(stream)
    if failsafe is not None:
        found |= {failsafe.watch_field} | _needed(scenario, stream)
    return frozenset(found)


def _needed(scenario: Scenario, stream: str) -> set[str]:
    failsafe = scenario.failsafe.get(stream)
    return (
        set()
        if failsafe is None or failsafe.resume_needs is None
        else {failsafe.resume_needs.field}
    )


def _counter_names() -> Iterator[str]:
    yield "count"
    number = 2
    while True:
        yield f"count_{number}"
        number += 1


def stand_in(scenario: Scenario, stream: str) -> tuple[tuple[str, ...], str]:
    """The line that lets some field change with every frame, to try what a counter would do, and
    the field; both are empty if there is none.

    What the field says is lost: this is for reruns alone.
    """
    layout = scenario.layout_of(stream)
    used, needed = _looked_at(scenario, stream), _needed(scenario, stream)
    fields = [f for f in layout.fields if f.name not in needed and not is_version(f.name)]
    if not fields:
        return (), ""
    # Last the last of those that nothing looks at.
    field = max(fields, key=lambda f: (can_count(span_of(f)), f.name not in used, f.bit_offset))
    key = f"transmitter.{stream}.signals.{field.name}"
    if can_count(span_of(field)):
        return (f"{key}={_COUNTS}",), field.name
    low, high = max(field.minimum, field.neutral - 1), min(field.maximum, field.neutral + 1)
    swings = f"mean = {(low + high) / 2!r}, amplitude = {(high - low) / 2!r}"
    return (f'{key}={{ kind = "sine", period_s = 1, {swings} }}',), field.name


def how_to_count(scenario: Scenario, stream: str) -> str:
    """What gives a stream's frames a counter where no line of the scenario can."""
    unit = scenario.transmitter[stream]
    layout = scenario.layout.get(unit.layout)
    size = scenario.layout_of(stream).size_bytes
    counts = f"let the firmware of {stream} send one more in each frame"
    if layout is not None and layout.header and size < LONGEST_PAYLOAD_BYTES:
        return f"add uint8_t count; to struct {layout.struct} in {layout.header}, and {counts}"
    return (
        f"its frame is full ({size} of {LONGEST_PAYLOAD_BYTES} bytes): free a byte of it for one, "
        f"and {counts}"
    )
