"""A scenario with some keys set otherwise, judged like a file."""

from collections.abc import Iterable
from typing import Any

import msgspec

from radiosim.errors import Problem, ScenarioError
from radiosim.scenario.complete import completed
from radiosim.scenario.headers import FILLED_IN
from radiosim.scenario.override import OVERRIDE_FILE, Document, overridden
from radiosim.scenario.paths import path_text
from radiosim.scenario.read import judged
from radiosim.scenario.structs.scenario import Scenario
from radiosim.signals import Constant, Csv

_AT_REST = {name: it for name, it in msgspec.to_builtins(Constant()).items() if it is not None}
_DERIVED = ("name", "assumed", "warnings")


def changed(scenario: Scenario, overrides: Iterable[str]) -> Scenario:
    """The scenario with `KEY=VALUE` set, as `--set` does; all else stays as it was filled in.

    Raises ScenarioError if what comes out is no sound scenario.
    """
    document, _, problems = overridden(document_of(scenario), overrides)
    if problems:
        raise ScenarioError(problems)
    file, found = judged(document, None, tables_of(scenario), scenario.layout)
    if file is None or found:
        raise ScenarioError(
            tuple(
                Problem(file=OVERRIDE_FILE, path=path_text(path), text=text) for path, text in found
            )
        )
    again = completed(file, document, scenario.name)
    return msgspec.structs.replace(again, assumed=scenario.assumed)


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
            unit["signals"] = {n: it for n, it in unit["signals"].items() if it != _AT_REST}
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
