"""A scenario in which some streams have another layout, judged like a file."""

from collections.abc import Iterable
from typing import Any

import msgspec

from radiosim.errors import Problem, ScenarioError
from radiosim.layout import FieldDescription, Layout, LayoutDescription
from radiosim.layout.description import Conversion
from radiosim.layout.header import described
from radiosim.scenario.changed import document_of, tables_of
from radiosim.scenario.complete import completed
from radiosim.scenario.named_layout import NamedLayout
from radiosim.scenario.paths import path_text
from radiosim.scenario.read import judged
from radiosim.scenario.structs.scenario import Scenario
from radiosim.signals import Counter

_LETTERS = {"unsigned": "u", "signed": "i", "float": "f"}


def streams_with(scenario: Scenario, named: NamedLayout) -> tuple[str, ...]:
    """The streams whose layout has this one's name, or comes from the struct of its name."""
    name = named.layout.name

    def is_it(key: str) -> bool:
        described_as = scenario.layout.get(key)
        return key == name or (described_as is not None and described_as.struct == name)

    return tuple(stream for stream, unit in scenario.transmitter.items() if is_it(unit.layout))


def relaid(
    scenario: Scenario, streams: Iterable[str], named: NamedLayout, key: str
) -> tuple[Scenario, tuple[str, ...]]:
    """The scenario with a layout, called `key` in it, for some streams; and what that leaves open.

    Signals of fields that it does not have are dropped, fields without a signal rest. Raises
    ScenarioError if what comes out is no sound scenario: an output of a field that is gone, or a
    frame that no radio sends.
    """
    description = _description(named)
    document = document_of(scenario)
    document.setdefault("layout", {})[key] = _as_document(description)
    open_ends: list[str] = []
    for stream in streams:
        unit = document["transmitter"][stream]
        unit.pop("payload_bytes", None)
        unit["layout"] = key
        names = [field.name for field in named.layout.fields]
        open_ends += _signals(stream, unit, scenario, names)
    layouts = {**scenario.layout, key: description}
    file, found = judged(document, None, tables_of(scenario), layouts)
    if file is None or found:
        raise ScenarioError(
            tuple(
                Problem(file=named.label, path=path_text(path), text=text) for path, text in found
            )
        )
    return completed(file, document, scenario.name), tuple(open_ends)


def _signals(
    stream: str, unit: dict[str, Any], scenario: Scenario, names: list[str]
) -> Iterable[str]:
    """Fit the signals of a unit to the fields of its new layout."""
    before = scenario.transmitter[stream].signals
    signals = {name: signal for name, signal in unit["signals"].items() if name in names}
    for name in before:
        if name not in names:
            yield f"{stream}: {name} is gone, and its signal with it"
    counters = [name for name, signal in before.items() if isinstance(signal, Counter)]
    for name in names:
        if name in before:
            continue
        if name in counters:
            signals[name] = {"kind": "counter"}
        else:
            yield f"{stream}: {name} is new, and rests all the time"
    unit["signals"] = signals


def _description(named: NamedLayout) -> LayoutDescription:
    """How a scenario would describe the layout."""
    layout = named.layout
    if named.struct is not None:
        return described(named.struct, _conversions(layout))
    if named.scenario is not None and layout.name in named.scenario.layout:
        return named.scenario.layout[layout.name]
    return LayoutDescription(
        byte_order=layout.byte_order,
        packed=layout.packed,
        fields=tuple(
            FieldDescription(
                name=field.name,
                type=f"{_LETTERS[field.kind]}{field.container_bits}",  # type: ignore[arg-type]
                scale=field.scale,
                neutral=field.neutral,
                offset=field.offset,
                min=field.minimum,
                max=field.maximum,
                bits=field.bits if field.is_bit_field else None,
            )
            for field in layout.fields
        ),
    )


def _conversions(layout: Layout) -> dict[str, Conversion]:
    """What the numbers of a header's struct stand for, where a scenario has said it."""
    return {
        field.name: Conversion(
            scale=field.scale,
            neutral=field.neutral,
            offset=field.offset,
            min=field.minimum,
            max=field.maximum,
        )
        for field in layout.fields
        if (field.scale, field.neutral, field.offset) != (1.0, 0.0, 0)
    }


def _as_document(description: LayoutDescription) -> dict[str, Any]:
    """As a file would say it: what a header fills in is left out."""
    document: dict[str, Any] = msgspec.json.decode(msgspec.json.encode(description))
    if description.header:
        for key in ("fields", "size_bytes"):
            document.pop(key, None)
        # A header's layout is packed as its compiler does it.
        document.pop("packed", None)
    return document
