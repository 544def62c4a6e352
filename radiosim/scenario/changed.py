"""Scenarios with keys changed, with another layout, or from elsewhere, judged like a file."""

from collections.abc import Container, Iterable, Iterator, Mapping
from itertools import groupby
from typing import TYPE_CHECKING, Any

import msgspec

from radiosim.errors import Problem, ScenarioError
from radiosim.layout import FieldDescription, Layout, LayoutDescription
from radiosim.layout.description import Conversion
from radiosim.layout.field import array_of
from radiosim.layout.header_layout import described
from radiosim.scenario.assumed import (
    assumed,
    assumed_outputs,
    still_assumed,
    without_assumed_outputs,
)
from radiosim.scenario.checks import problems_of
from radiosim.scenario.checks.view import Found
from radiosim.scenario.complete import completed, given_in
from radiosim.scenario.key_paths import path_text
from radiosim.scenario.named_files import FILLED_IN
from radiosim.scenario.override import (
    OVERRIDE_FILE,
    REPLACE_FILE,
    Document,
    overridden,
    with_values,
)
from radiosim.scenario.problems import problems, scenario_kind
from radiosim.scenario.read import judged
from radiosim.scenario.structs.output_table import OutputTable
from radiosim.scenario.structs.scenario_file import Scenario, ScenarioFile
from radiosim.scenario.structs.transmitter_table import TransmitterTable
from radiosim.scenario.traffic import too_much
from radiosim.signals import Constant, Csv

if TYPE_CHECKING:
    from radiosim.scenario.named_layout import NamedLayout

_AT_REST = {
    name: value for name, value in msgspec.to_builtins(Constant()).items() if value is not None
}
_DERIVED = ("name", "assumed", "warnings", "given")


def changed(scenario: Scenario, overrides: Iterable[str]) -> Scenario:
    """The scenario with `KEY=VALUE` set, as `--set` does; all else stays as it was filled in.

    Outputs that were assumed are assumed again, unless a key of an output is set. Raises
    ScenarioError if what comes out is no sound scenario.
    """
    document, paths, problems = overridden(document_of(scenario), overrides)
    if problems:
        raise ScenarioError(problems)
    if not any(path[0] == "output" for path in paths):
        for name in assumed_outputs(scenario):
            del document["output"][name]
    _, again = _judged_again(scenario, document, OVERRIDE_FILE)
    set_keys = map(path_text, paths)
    return msgspec.structs.replace(
        again, assumed=scenario.assumed, given=_with(scenario.given, set_keys)
    )


def replaced(scenario: Scenario, values: Mapping[str, Any]) -> Scenario:
    """The scenario with the value of each key path set; all else stays as it was filled in.

    Raises ScenarioError if what comes out is no sound scenario, or too much to simulate.
    """
    document, problems = with_values(document_of(scenario), values)
    if problems:
        raise ScenarioError(problems)
    file, again = _judged_again(scenario, document, REPLACE_FILE)
    if text := too_much(again):
        raise ScenarioError((Problem(file=REPLACE_FILE, path="duration_s", text=text),))
    given, _ = with_values({}, values)
    said = without_assumed_outputs(file, scenario.assumed)
    now = assumed(file if "output" in given else said, again, given)
    left = still_assumed(scenario.assumed, assumed(said, scenario, {}), now)
    return msgspec.structs.replace(
        again, assumed=left, given=_with(scenario.given, given_in(given))
    )


def _with(given: Iterable[str], more: Iterable[str]) -> tuple[str, ...]:
    return tuple(sorted({*given, *more}))


def _judged_again(
    scenario: Scenario, document: Document, named: str
) -> tuple[ScenarioFile, Scenario]:
    """The file and scenario that a document of a scenario makes; problems carry the name."""
    file, found = judged(document, None, tables_of(scenario), scenario.layout)
    if file is None or found:
        raise ScenarioError(
            tuple(Problem(file=named, path=path_text(path), text=text) for path, text in found)
        )
    return file, completed(file, document, scenario.name)


def document_of(scenario: Scenario) -> Document:
    """A scenario's document in which nothing is left out."""
    # Through text: tuples become lists, which is what a document holds.
    document: Document = _without_nothing(msgspec.json.decode(msgspec.json.encode(scenario)))
    for name in _DERIVED:
        document.pop(name, None)
    for layout in document["layout"].values():
        if layout.get("header"):
            for key in FILLED_IN:
                layout.pop(key, None)
    for unit in document["transmitter"].values():
        if "payload_bytes" in unit:
            # Another length has other spare bytes; those at rest need not be named.
            del unit["layout"]
            unit["signals"] = {
                n: given for n, given in unit["signals"].items() if given != _AT_REST
            }
        for signal in unit["signals"].values():
            if signal["kind"] == "csv":
                del signal["points"]
    for place in _places(document):
        if "track" in place:
            # Its points are at hand: the file need not be read again.
            place.pop("track_file", None)
    for output in document["output"].values():
        if "field" in output:
            del output["mix"]
    return document


def _places(document: Document) -> list[Document]:
    """Every table that may hold a track."""
    tables = [document["air"], *document["transmitter"].values()]
    return [table[key] for table in tables for key in ("range", "place") if key in table]


def tables_of(scenario: Scenario) -> dict[tuple[str, str], Csv]:
    """Signals whose tables were read, by transmitter and field."""
    return {
        (name, field): signal
        for name, unit in scenario.transmitter.items()
        for field, signal in unit.signals.items()
        if isinstance(signal, Csv)
    }


def _without_nothing(value: Any) -> Any:
    """TOML has no null: what is None is left out."""
    if isinstance(value, dict):
        return {key: _without_nothing(inner) for key, inner in value.items() if inner is not None}
    return [_without_nothing(inner) for inner in value] if isinstance(value, list) else value


_LETTERS = {"unsigned": "u", "signed": "i", "float": "f"}


def streams_with(scenario: Scenario, named: "NamedLayout") -> tuple[str, ...]:
    """The streams whose layout has this one's name, or comes from the struct of its name."""
    name = named.layout.name

    def is_it(key: str) -> bool:
        described_as = scenario.layout.get(key)
        return key == name or (described_as is not None and described_as.struct == name)

    return tuple(stream for stream, unit in scenario.transmitter.items() if is_it(unit.layout))


def with_layout(
    scenario: Scenario, streams: Iterable[str], named: "NamedLayout", key: str
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
    made = completed(file, document, scenario.name)
    laid = given_in({"layout": {key: document["layout"][key]}})
    made = msgspec.structs.replace(made, given=_with(scenario.given, laid))
    return made, tuple(open_ends)


def _signals(
    stream: str, unit: dict[str, Any], scenario: Scenario, names: list[str]
) -> Iterator[str]:
    """Fit the signals of a unit to the fields of its new layout; what that leaves open."""
    before = scenario.transmitter[stream].signals
    unit["signals"] = {name: given for name, given in unit["signals"].items() if name in names}
    for places in _arrays(before, names):
        text = "is gone, and its signal with it"
        if len(places) > 1:
            text = "are gone, and their signals with them"
        yield f"{stream}: {_named_places(places)} {text}"
    for places in _arrays(names, before):
        text = "is new, and rests" if len(places) == 1 else "are new, and rest"
        yield f"{stream}: {_named_places(places)} {text} all the time"


def _arrays(names: Iterable[str], others: Container[str]) -> Iterator[list[str]]:
    """Those that are not among the others, side by side in one array together."""
    for (is_other, _), places in groupby(names, lambda name: (name in others, array_of(name))):
        if not is_other:
            yield list(places)


def _named_places(places: list[str]) -> str:
    return places[0] if len(places) == 1 else f"{places[0]} to {places[-1]}"


def _description(named: "NamedLayout") -> LayoutDescription:
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
    """The description as a file would say it, without what a header fills in."""
    document: dict[str, Any] = msgspec.json.decode(msgspec.json.encode(description))
    if description.header:
        for key in ("fields", "size_bytes"):
            document.pop(key, None)
        # A header's layout is packed as its compiler does it.
        document.pop("packed", None)
    return document


def problems_of_scenario(scenario: Scenario) -> tuple[Found, ...]:
    """Every (path, text) of a completed scenario that no scenario could have."""
    file = as_file(scenario)
    found = tuple(problems(_given(msgspec.to_builtins(file)), scenario_kind())) or problems_of(file)
    if not found and (text := too_much(scenario)):
        return ((("duration_s",), text),)
    return found


def as_file(scenario: Scenario) -> ScenarioFile:
    """The file that says every key of a scenario; completed, it is the same scenario."""
    return ScenarioFile(
        **_keys_of(scenario, *_DERIVED, "transmitter", "output"),
        transmitter={
            name: TransmitterTable(
                **_keys_of(unit, "layout"),
                layout=unit.layout if unit.payload_bytes is None else None,
            )
            for name, unit in scenario.transmitter.items()
        },
        output={
            name: OutputTable(
                **_keys_of(output, "mix"), mix=output.mix if output.field is None else None
            )
            for name, output in scenario.output.items()
        },
    )


def _keys_of(struct: msgspec.Struct, *without: str) -> dict[str, Any]:
    return {key: getattr(struct, key) for key in struct.__struct_fields__ if key not in without}


def _given(value: Any) -> Any:
    """Plain values as a scenario's text would give them: what is None is left out."""
    if isinstance(value, dict):
        return {key: _given(item) for key, item in value.items() if item is not None}
    return [_given(item) for item in value] if isinstance(value, list | tuple) else value
