"""Every setting that what is simulated can rest on: all keys, but those that move nothing."""

from collections.abc import Iterator
from typing import Any

from msgspec import Struct

from radiosim.scenario import Scenario
from radiosim.study.bench.moving_keys import ABSENT_IS_NONE, moves
from radiosim.study.bench.rests import Rest, rest_of, together


def all_rests(scenario: Scenario, *, has_faults: bool) -> tuple[Rest, ...]:
    """Every setting of a scenario that counts, or drills with faults, can move with."""

    def of(key: str, struct: Struct) -> Iterator[Rest]:
        return _of_struct(scenario, key, struct, has_faults)

    found: list[Rest] = []
    for table in ("transmitter", "output", "failsafe", "interferer"):
        tables = getattr(scenario, table)
        each = [rest for name, struct in tables.items() for rest in of(f"{table}.{name}", struct)]
        found += together(table, len(tables), each)
    for table in ("receiver", "radio", "air"):
        found += of(table, getattr(scenario, table))
    if not scenario.interferer:
        found.append(rest_of(scenario, "interferer", ()))
    return tuple(found)


def _of_struct(scenario: Scenario, path: str, struct: Struct, has_faults: bool) -> Iterator[Rest]:
    for name in struct.__struct_fields__:
        value, key = getattr(struct, name), f"{path}.{name}"
        if not moves(struct, name, scenario, has_faults=has_faults):
            continue
        if name == "signals":
            yield _signals(scenario, key, value)
        elif value is None:
            if name in ABSENT_IS_NONE:
                yield rest_of(scenario, key, ())
        elif isinstance(value, Struct):
            yield from _of_struct(scenario, key, value, has_faults)
        elif isinstance(value, tuple) and value and isinstance(value[0], Struct):
            for number, entry in enumerate(value):
                yield from _of_struct(scenario, f"{key}[{number}]", entry, has_faults)
        else:
            yield rest_of(scenario, key, value)


def _signals(scenario: Scenario, path: str, signals: dict[str, Any]) -> Rest:
    """What fields do: those that nobody has said rest, which is a guess too."""
    still = [name for name in signals if rest_of(scenario, f"{path}.{name}", name).is_default]
    if not still:
        return Rest(key=path, value="given", is_default=False)
    return Rest(key=path, value=f"{', '.join(still)} at rest", is_default=True)
