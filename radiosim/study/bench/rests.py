"""The settings that a predicted range rests on, and which of them nobody has said."""

from collections.abc import Container, Iterable, Iterator
from typing import Any

from msgspec import Struct
from msgspec.structs import replace

from radiosim.scenario import Scenario
from radiosim.scenario.schema import NAME
from radiosim.study.bench.moving_keys import moves

NOTHING = "none"


class Rest(Struct, frozen=True, kw_only=True):
    """One setting that a step rests on."""

    key: str
    """Its path; NAME stands for every table that has the same value."""
    value: str
    is_default: bool
    """The value is radiosim's default or guess: the scenario does not say it."""


def rests_on(scenario: Scenario, *keys: str) -> tuple[Rest, ...]:
    """The settings of some key paths; `transmitter.NAME.…` is each transmitter's.

    What a scenario leaves open, such as a clock's error beside its kind, is left out.
    """
    return tuple(rest for key in keys for rest in _of_key(scenario, key))


def _of_key(scenario: Scenario, key: str) -> Iterator[Rest]:
    table, _, rest = key.partition(".")
    if rest.startswith(f"{NAME}."):
        tables = getattr(scenario, table)
        yield from _of_tables(scenario, table, tables, rest.removeprefix(f"{NAME}."))
        return
    struct, name = _inner(getattr(scenario, table), rest)
    value = None if struct is None else getattr(struct, name)
    if value is not None and moves(struct, name, scenario, has_faults=True):
        yield rest_of(scenario, key, value)


def _inner(struct: Any, key: str) -> tuple[Any, str]:
    """The table in a table that has the last part of a key, and that part; None: there is none."""
    *tables, name = key.split(".")
    for table in tables:
        struct = None if struct is None else getattr(struct, table)
    return struct, name


def _of_tables(
    scenario: Scenario, table: str, tables: dict[str, Any], key: str
) -> tuple[Rest, ...]:
    return together(
        table,
        len(tables),
        [
            rest_of(scenario, f"{table}.{name}.{key}", value)
            for name, outer in tables.items()
            for struct, last in [_inner(outer, key)]
            if struct is not None
            and (value := getattr(struct, last)) is not None
            and moves(struct, last, scenario, has_faults=True)
        ],
    )


def together(table: str, count: int, found: Iterable[Rest]) -> tuple[Rest, ...]:
    """One line for a key that all of `count` tables have alike, else one for each."""
    by_key: dict[str, list[Rest]] = {}
    for rest in found:
        key = rest.key.removeprefix(f"{table}.").partition(".")[2]
        by_key.setdefault(key, []).append(rest)
    made: list[Rest] = []
    for key, rests in by_key.items():
        alike = {(rest.value, rest.is_default) for rest in rests}
        if 1 < len(rests) == count and len(alike) == 1:
            made.append(replace(rests[0], key=f"{table}.{NAME}.{key}"))
        else:
            made += rests
    return tuple(made)


def rest_of(scenario: Scenario, key: str, value: Any) -> Rest:
    """One setting, and whether the scenario gives it, or any part of it."""
    is_given = any(
        path == key or path.startswith((f"{key}.", f"{key}[")) for path in scenario.given
    )
    return Rest(key=key, value=_shown(value), is_default=not is_given)


def _shown(value: Any) -> str:
    """A value as a scenario says it, if it is short."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int | float):
        return f"{value:g}" if abs(value) < 1e6 else f"{value:_.0f}"
    if isinstance(value, str):
        return f'"{value}"'
    if isinstance(value, dict):
        return ", ".join(f"{key} {_shown(inner)}" for key, inner in value.items())
    if value and all(isinstance(part, int | float) for part in value):
        return f"[{', '.join(map(_shown, value))}]"
    return f"{len(value)} given" if value else NOTHING


def has_default(rests: Iterable[Rest], unit: str = "", others: Container[str] = ()) -> bool:
    """Whether one of them is a default, those of the other transmitters apart."""

    def is_other(rest: Rest) -> bool:
        table, _, more = rest.key.partition(".")
        name = more.partition(".")[0]
        return table == "transmitter" and name != unit and name in others

    return any(rest.is_default and not is_other(rest) for rest in rests)


def defaults_text(rests: Iterable[Rest]) -> str:
    """The settings that nobody has said, with their values; empty if there are none."""
    left = [rest for rest in rests if rest.is_default]
    there = [
        replace(rest, key=f"{rest.key} = {rest.value}") for rest in left if rest.value != NOTHING
    ]
    absent = keys_text(rest for rest in left if rest.value == NOTHING)
    return "; ".join(
        [*([keys_text(there)] if there else []), *([f"none of {absent}"] if absent else [])]
    )


def keys_text(rests: Iterable[Rest]) -> str:
    """Keys of settings, each once, by table; tables that share theirs together."""
    tables: dict[str, dict[str, None]] = {}
    for rest in rests:
        place = rest.key.partition(" ")[0].rfind(".")
        tables.setdefault(rest.key[: place + 1], {})[rest.key[place + 1 :]] = None
    alike: dict[tuple[str, str], list[str]] = {}
    for table, keys in tables.items():
        kind, _, name = table.partition(".")
        alike.setdefault((kind, ", ".join(keys)), []).append(name)
    return "; ".join(
        f"{kind}{f'.{_either(names)}' if kind else ''}{keys}"
        for (kind, keys), names in alike.items()
    )


def _either(names: list[str]) -> str:
    """`pan.` of one table, `(pan, tilt).` of several."""
    if len(names) == 1:
        return names[0]
    return f"({', '.join(name.removesuffix('.') for name in names)})."
