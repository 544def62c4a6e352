"""The settings that a predicted range rests on, and which of them have radiosim's default."""

from collections.abc import Iterable, Iterator
from typing import Any

import msgspec
from msgspec import Struct

from radiosim.scenario import Scenario
from radiosim.scenario.assumed import assumed_distance_m, is_loss_assumed
from radiosim.scenario.schema import NAME


class Rest(Struct, frozen=True, kw_only=True):
    """One setting that a step rests on."""

    key: str
    """Its path; NAME stands for every table that has the same value."""
    value: str
    is_default: bool
    """The value is radiosim's default or guess, whether or not the scenario says it too."""


def rests_on(scenario: Scenario, *keys: str) -> tuple[Rest, ...]:
    """The settings of some key paths; `transmitter.NAME.…` is each transmitter's.

    What a scenario leaves open, such as a clock's error beside its kind, is left out.
    """
    return tuple(rest for key in keys for rest in _of_key(scenario, key))


def _of_key(scenario: Scenario, key: str) -> Iterator[Rest]:
    table, _, rest = key.partition(".")
    if key == "air.loss":
        yield _loss(scenario)
    elif key == "air.range.distance_m":
        yield from _distance(scenario)
    elif rest.startswith(f"{NAME}."):
        tables = getattr(scenario, table)
        yield from _of_tables(table, tables, rest.removeprefix(f"{NAME}."))
    else:
        struct, name = _inner(getattr(scenario, table), rest)
        value = None if struct is None else getattr(struct, name)
        if value is not None:
            yield _rest(key, value, struct)


def _inner(struct: Any, key: str) -> tuple[Any, str]:
    """The table in a table that has the last part of a key, and that part; None: there is none."""
    *tables, name = key.split(".")
    for table in tables:
        struct = None if struct is None else getattr(struct, table)
    return struct, name


def _of_tables(table: str, tables: dict[str, Any], key: str) -> Iterator[Rest]:
    """One line for all tables that have the same value, else one for each."""
    found = [
        _rest(f"{table}.{name}.{key}", value, struct)
        for name, outer in tables.items()
        for struct, last in [_inner(outer, key)]
        if struct is not None
        and (value := getattr(struct, last)) is not None
        # A frame of plain bytes has a layout that no scenario names.
        and not (key == "layout" and struct.payload_bytes is not None)
    ]
    if len(found) > 1 and len(found) == len(tables) and len({rest.value for rest in found}) == 1:
        yield msgspec.structs.replace(found[0], key=f"{table}.{NAME}.{key}")
    else:
        yield from found


def _rest(key: str, value: Any, struct: Struct) -> Rest:
    name = key.rpartition(".")[2]
    field = next(field for field in msgspec.structs.fields(struct) if field.name == name)
    return Rest(key=key, value=_shown(value), is_default=value == field.default)


def _shown(value: Any) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return f'"{value}"'
    if isinstance(value, int | float):
        return f"{value:g}" if abs(value) < 1e6 else f"{value:_.0f}"
    return f"{len(value)} given" if value else "none"


def _loss(scenario: Scenario) -> Rest:
    return Rest(
        key="air.loss", value=f"{scenario.air.loss:g}", is_default=is_loss_assumed(scenario)
    )


def _distance(scenario: Scenario) -> Iterator[Rest]:
    place = scenario.air.range
    if place is not None and place.distance_m is not None:
        yield Rest(
            key="air.range.distance_m",
            value=f"{place.distance_m:g}",
            is_default=assumed_distance_m(scenario) is not None,
        )


def defaults_text(rests: Iterable[Rest]) -> str:
    """The settings that have radiosim's default, each once, by table; empty if none has."""
    tables: dict[str, dict[str, str]] = {}
    for rest in rests:
        if rest.is_default:
            table, _, name = rest.key.rpartition(".")
            tables.setdefault(table, {})[name] = rest.value
    return "; ".join(
        f"{table}.{', '.join(f'{name} = {value}' for name, value in said.items())}"
        for table, said in tables.items()
    )
