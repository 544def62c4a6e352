"""Every number that a scenario can have, at the edges that the structs give it and beyond them."""

import copy
import math
import sys
import tempfile
import tomllib
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from msgspec import inspect as mi

from radiosim.scenario.structs.scenario_file import ScenarioFile
from tests.scenario.fuzz.corpus import corpus
from tests.scenario.fuzz.judge import Mutant, folder_ready, judge
from tests.scenario.fuzz.search import SLOW_S

NAME = "NAME"
Steps = tuple[str | int, ...]
"""NAME stands for what the user calls a table."""
ODD = (5e-324, -5e-324, 1e308, -1e308, math.nan, math.inf, -math.inf, -0.0, 1e-300)
LONG = 10**400
_NEXT = 1e-9
"""How far beyond an edge, by its size."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Number:
    """One number of the schema: a key, or what stands in a list or a table that a key has."""

    path: Steps
    kind: mi.IntType | mi.FloatType
    tag: str = ""
    """Kind of signal that has it."""

    @property
    def edges(self) -> tuple[float | None, float | None]:
        """Lowest and highest value; None where there is none."""
        low = self.kind.gt if self.kind.ge is None else self.kind.ge
        return low, self.kind.lt if self.kind.le is None else self.kind.le

    def holds(self, value: float) -> bool:
        """Whether the structs allow it."""
        low, high = self.edges
        assert low is not None
        assert high is not None
        is_whole = isinstance(self.kind, mi.FloatType) or isinstance(value, int)
        is_open = value in (self.kind.gt, self.kind.lt)
        return is_whole and low <= value <= high and not is_open

    def tried(self) -> tuple[float, ...]:
        """Its edges, what is just past them, and what is no sensible number of anything."""
        low, high = self.edges
        assert low is not None
        assert high is not None
        if isinstance(self.kind, mi.IntType):
            return (low, high, low - 1, high + 1, low + 0.5, -LONG, LONG, *ODD)
        step = (_NEXT * max(abs(low), abs(high) * 1e-6), _NEXT * max(abs(high), abs(low) * 1e-6))
        return (low, high, low - step[0], high + step[1], -LONG, LONG, *ODD)


@cache
def numbers() -> tuple[Number, ...]:
    """Every number of the schema, in its order."""
    return tuple(_inside(mi.type_info(ScenarioFile), (), ""))


def _inside(kind: mi.Type, path: Steps, tag: str) -> Iterator[Number]:
    match kind:
        case mi.Metadata():
            yield from _inside(kind.type, path, tag)
        case mi.UnionType():
            for member in kind.types:
                yield from _inside(member, path, tag)
        case mi.DictType():
            yield from _inside(kind.value_type, (*path, NAME), tag)
        case mi.VarTupleType():
            yield from _inside(kind.item_type, (*path, 0), tag)
        case mi.TupleType():
            for place, item in enumerate(kind.item_types):
                yield from _inside(item, (*path, place), tag)
        case mi.StructType():
            for field in kind.fields:
                yield from _inside(field.type, (*path, field.encode_name), str(kind.tag or tag))
        case mi.IntType() | mi.FloatType():
            yield Number(path=path, kind=kind, tag=tag)


def mutant_with(number: Number, value: float) -> Mutant:
    """A sound scenario with that number in it: one that has the key if there is such a one."""
    chosen = max(_documents(), key=lambda document: _depth_of(document, number))
    document = copy.deepcopy(chosen)
    _put(document, mi.type_info(ScenarioFile), number, value)
    return Mutant(text=_toml(document).encode())


@cache
def _documents() -> tuple[dict[str, Any], ...]:
    return tuple(tomllib.loads(text.decode()) for text in corpus().sound)


def _depth_of(document: Any, number: Number) -> int:
    """How many steps of the path are there; a signal's kind must be the one that has the key."""
    here = document
    for depth, step in enumerate(number.path):
        found = _within(here, step, number.tag)
        if found is None:
            return depth
        here = found
    return len(number.path)


def _within(here: Any, step: str | int, tag: str) -> Any:
    if isinstance(here, dict):
        named = [one for one in here.values() if not tag or _kind_of(one) in (None, tag)]
        return next(iter(named), None) if step == NAME else here.get(str(step))
    is_there = isinstance(here, list) and isinstance(step, int) and step < len(here)
    return here[step] if is_there else None


def _kind_of(one: Any) -> Any:
    return one.get("kind") if isinstance(one, dict) else None


def _put(here: Any, kind: mi.Type, number: Number, value: float) -> None:
    """Put the value at its path, with the least that must stand round it."""
    path = number.path
    for depth, step in enumerate(path):
        kind, key = _inner(kind, step, number.tag), step
        if step == NAME:
            key = _name_in(here, number.tag) or _free_name(path[:depth])
        is_last = depth == len(path) - 1
        if isinstance(here, list):
            assert isinstance(key, int)
            while len(here) <= key:
                here.append(_least(kind, number.tag))
        elif not is_last and not isinstance(here.get(key), dict | list):
            here[key] = _least(kind, number.tag)
        if is_last:
            here[key] = value
        here = here[key]


def _name_in(here: dict[str, Any], tag: str) -> str | None:
    fitting = [name for name, one in here.items() if not tag or _kind_of(one) in (None, tag)]
    return next(iter(fitting), None)


def _free_name(path: Steps) -> str:
    return "throttle" if "signals" in path or "mix" in path else "drive"


def _inner(kind: mi.Type, step: str | int, tag: str) -> mi.Type:
    """The type at a step into a container."""
    for member in _members(kind):
        match member:
            case mi.StructType() if not member.tag or str(member.tag) == tag:
                for field in member.fields:
                    if field.encode_name == step:
                        return field.type
            case mi.DictType() if step == NAME:
                return member.value_type
            case mi.VarTupleType() if isinstance(step, int):
                return member.item_type
            case mi.TupleType() if isinstance(step, int):
                return member.item_types[step]
    raise AssertionError(step)


def _members(kind: mi.Type) -> tuple[mi.Type, ...]:
    kind = kind.type if isinstance(kind, mi.Metadata) else kind
    if not isinstance(kind, mi.UnionType):
        return (kind,)
    return tuple(inner for member in kind.types for inner in _members(member))


def _least(kind: mi.Type, tag: str) -> Any:
    """The smallest value that the structs allow, a container where there may be one."""
    members = [one for one in _members(kind) if not isinstance(one, mi.NoneType)]
    containers = [one for one in members if not isinstance(one, mi.LiteralType)] or members
    return _least_of(containers[0], members, tag)


def _least_of(kind: mi.Type, members: list[mi.Type], tag: str) -> Any:
    value: Any
    match kind:
        case mi.StructType():
            structs = [one for one in members if isinstance(one, mi.StructType)]
            chosen = next((one for one in structs if str(one.tag) == tag), structs[0])
            given = [field for field in chosen.fields if field.required]
            value = {field.encode_name: _least(field.type, tag) for field in given}
            if chosen.tag_field:
                value[chosen.tag_field] = chosen.tag
        case mi.DictType():
            value = {}
        case mi.VarTupleType():
            value = [_least(kind.item_type, tag)] * (kind.min_length or 0)
        case mi.TupleType():
            value = [_least(item, tag) for item in kind.item_types]
        case mi.IntType() | mi.FloatType():
            low = kind.gt if kind.ge is None else kind.ge
            value = low if low is not None and low > 1 else 1
        case mi.LiteralType():
            value = kind.values[0]
        case mi.BoolType():
            value = True
        case _:
            value = "throttle"
    return value


def _toml(document: dict[str, Any]) -> str:
    return "".join(f"{key} = {_inline(value)}\n" for key, value in document.items())


def _inline(value: Any) -> str:
    if isinstance(value, dict):
        return "{" + ", ".join(f"{key} = {_inline(one)}" for key, one in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(_inline, value)) + "]"
    if isinstance(value, str):
        escaped = value.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n")
        return f'"{escaped}"'
    if isinstance(value, bool):
        return "true" if value else "false"
    return repr(value)


def main() -> int:
    """Try every number at every value, and print what came of it; 1 if one did not end well."""
    fates: Counter[str] = Counter()
    wrong = 0
    with tempfile.TemporaryDirectory() as name:
        folder_ready(Path(name))
        for number in numbers():
            for value in number.tried():
                verdict = judge(mutant_with(number, value), Path(name), "told")
                fates[verdict.fate] += 1
                if verdict.wrong or (verdict.fate != "refused" and not number.holds(value)):
                    wrong += 1
                    print(f"{number.path} = {value!r}: {verdict.fate} {verdict.wrong}", flush=True)
                if verdict.seconds > SLOW_S:
                    print(f"slow: {number.path} = {value!r}: {verdict.seconds:.1f} s", flush=True)
    print(f"{len(numbers())} numbers, {fates.total():,} values: {dict(fates)}, {wrong} wrong")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
