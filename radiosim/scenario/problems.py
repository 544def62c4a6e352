"""Every problem of a decoded document against the structs, each with its path.

Containers are walked here, because the decoder stops at the first problem; what a value may be is
read from the structs' own type information, so that each rule stands once.
"""

import math
from collections.abc import Iterator
from functools import cache
from typing import Any

from msgspec import inspect as mi

from radiosim.scenario.key_paths import Path, nearest
from radiosim.scenario.structs.scenario_file import ScenarioFile

_MOST_NAMED = 2


@cache
def scenario_kind() -> mi.Type:
    """What a scenario's document may hold; made when a document is walked, for it takes long."""
    return mi.type_info(ScenarioFile)


def elsewhere(key: str) -> str:
    """A hint that names the tables which have this key; empty if none has."""
    homes = _homes().get(key, ())[:_MOST_NAMED]
    named = (home if "." in home else f"{home} at the top of the file" for home in homes)
    return f", did you mean {' or '.join(named)}?" if homes else ""


@cache
def _homes() -> dict[str, tuple[str, ...]]:
    """Every key of a scenario, and its paths: `transmitter.NAME.period_ms`."""
    homes: dict[str, list[str]] = {}
    for path, key in _keys(scenario_kind(), ""):
        homes.setdefault(key, []).append(path)
    # Who looks for a key means a unit of the link before one from outside.
    return {
        key: tuple(sorted(dict.fromkeys(paths), key=lambda path: path.startswith("interferer")))
        for key, paths in homes.items()
    }


def _keys(kind: mi.Type, path: str) -> Iterator[tuple[str, str]]:
    match kind:
        case mi.Metadata():
            yield from _keys(kind.type, path)
        case mi.UnionType():
            for member in kind.types:
                yield from _keys(member, path)
        case mi.DictType():
            yield from _keys(kind.value_type, f"{path}.NAME")
        case mi.VarTupleType():
            yield from _keys(kind.item_type, f"{path}[N]")
        case mi.StructType():
            for field in kind.fields:
                here = f"{path}.{field.encode_name}" if path else field.encode_name
                yield here, field.encode_name
                yield from _keys(field.type, here)


Found = Iterator[tuple[Path, str]]

LARGEST_SHOWN = 2**64 - 1
"""Largest whole number that is shown digit by digit."""
_LONGEST_SHOWN = 60
_PLAIN_RULES: dict[type[mi.Type], str] = {mi.StrType: "text", mi.BoolType: "true or false"}


def problems(value: Any, kind: mi.Type, path: Path = ()) -> Found:
    """Each (path, text) that keeps a decoded TOML value from being a msgspec type."""
    if isinstance(kind, mi.Metadata):
        kind = kind.type
    match _candidate(value, kind):
        case mi.StructType() as struct:
            yield from _of_struct(value, struct, path)
        case mi.UnionType() as union:
            yield from _of_tagged(value, union, path)
        case mi.VarTupleType() | mi.TupleType() | mi.DictType() as items:
            yield from _of_items(value, items, path)
        case None:
            yield from _of_leaf(value, kind, path)


def _members(kind: mi.Type) -> tuple[mi.Type, ...]:
    """The kinds of a union, or the one; `None` only means that a key may be left out."""
    kind = kind.type if isinstance(kind, mi.Metadata) else kind
    members = kind.types if isinstance(kind, mi.UnionType) else (kind,)
    bare = (member.type if isinstance(member, mi.Metadata) else member for member in members)
    return tuple(member for member in bare if not isinstance(member, mi.NoneType))


def _candidate(value: Any, kind: mi.Type) -> mi.Type | None:
    """The container type that a container is meant to be; None if the value is to be judged."""
    members = _members(kind)
    if isinstance(value, dict):
        structs = [member for member in members if isinstance(member, mi.StructType)]
        if len(structs) > 1:
            return kind
        tables = [member for member in members if isinstance(member, mi.DictType)]
        return next(iter([*structs, *tables]), None)
    if isinstance(value, list):
        for member in members:
            if isinstance(member, mi.VarTupleType):
                return member
            if isinstance(member, mi.TupleType) and len(member.item_types) == len(value):
                return member
    return None


def _of_items(value: Any, kind: mi.VarTupleType | mi.TupleType | mi.DictType, path: Path) -> Found:
    """Of a list or of a table of names; of one that is too long, that alone."""
    if isinstance(kind, mi.TupleType):
        for number, (item, item_type) in enumerate(zip(value, kind.item_types, strict=True)):
            yield from problems(item, item_type, (*path, number))
        return
    item_type = kind.value_type if isinstance(kind, mi.DictType) else kind.item_type
    if kind.max_length is not None and len(value) > kind.max_length:
        yield path, f"must be at most {kind.max_length:,} of them, got {len(value):,}"
        return
    if len(value) < (kind.min_length or 0):
        yield path, f"must be {rule(kind)}, got {shown(value)}"
    for step, item in value.items() if isinstance(value, dict) else enumerate(value):
        yield from problems(item, item_type, (*path, step))


def _of_struct(value: dict[str, Any], kind: mi.StructType, path: Path) -> Found:
    fields = {field.encode_name: field for field in kind.fields}
    for key in value:
        if key not in fields and key != kind.tag_field:
            known = list(fields)
            hint = nearest(key, known) or elsewhere(key) or f", must be one of {', '.join(known)}"
            yield (*path, key), f"unknown key {shown(key)}{hint}"
    for key, field in fields.items():
        if key in value:
            yield from problems(value[key], field.type, (*path, key))
        elif field.required and _is_table(field.type):
            yield from problems({}, field.type, (*path, key))
        elif field.required:
            yield (*path, key), f"must be given ({rule(field.type)})"


def _is_table(kind: mi.Type) -> bool:
    return all(isinstance(member, mi.StructType) for member in _members(kind))


def _of_tagged(value: dict[str, Any], kind: mi.UnionType, path: Path) -> Found:
    """A table whose kind one of its keys tells, such as a signal."""
    structs = {member.tag: member for member in _members(kind) if isinstance(member, mi.StructType)}
    (tag_field,) = {struct.tag_field for struct in structs.values()}
    assert tag_field is not None
    names = ", ".join(str(tag) for tag in structs)
    if tag_field not in value:
        yield (*path, tag_field), f"must be given (one of {names})"
        return
    tag = value[tag_field]
    if isinstance(tag, str) and tag in structs:
        yield from _of_struct(value, structs[tag], path)
    else:
        hint = nearest(tag, structs)
        yield (*path, tag_field), f"must be one of {names}, got {shown(tag)}{hint}"


def _of_leaf(value: Any, kind: mi.Type, path: Path) -> Found:
    members = _members(kind)
    if not any(_fits(value, member) for member in members):
        words = [word for m in members if isinstance(m, mi.LiteralType) for word in m.values]
        hint = nearest(value, words) if isinstance(value, str) else ""
        yield path, f"must be {rule(kind)}, got {shown(value)}{hint}"


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _fits(value: Any, kind: mi.Type) -> bool:
    match kind:
        case mi.FloatType():
            return _is_number(value) and _is_finite(value) and _is_within(value, kind)
        case mi.IntType():
            return _is_number(value) and isinstance(value, int) and _is_within(value, kind)
        case mi.StrType():
            return isinstance(value, str)
        case mi.BoolType():
            return isinstance(value, bool)
        case mi.LiteralType():
            return isinstance(value, str) and value in kind.values
    return False


def _is_finite(value: int | float) -> bool:
    return isinstance(value, int) or math.isfinite(value)


def _is_within(value: int | float, kind: mi.IntType | mi.FloatType) -> bool:
    return (
        (kind.gt is None or value > kind.gt)
        and (kind.ge is None or value >= kind.ge)
        and (kind.lt is None or value < kind.lt)
        and (kind.le is None or value <= kind.le)
    )


FEW_KEYS = 4
"""Of a table, that are told where such a table may stand."""


def rule(kind: mi.Type) -> str:
    """What a value of a kind must be, in words; of the words at a path only those on offer."""
    if isinstance(kind, mi.Metadata) and "enum" in (kind.extra_json_schema or {}):
        return "one of " + ", ".join((kind.extra_json_schema or {})["enum"])
    if isinstance(kind, mi.Metadata | mi.UnionType):
        return " or ".join(dict.fromkeys(rule(member) for member in _members(kind)))
    match kind:
        case mi.LiteralType():
            values = [str(value) for value in kind.values]
            text = repr(values[0]) if len(values) == 1 else "one of " + ", ".join(values)
        case mi.FloatType():
            text = f"a number{_bounds(kind)}"
        case mi.IntType():
            text = f"a whole number{_bounds(kind)}"
        case mi.VarTupleType():
            least = f" (at least {kind.min_length})" if kind.min_length else ""
            text = f"a list{least}, each {rule(kind.item_type)}"
        case mi.TupleType():
            rules = [rule(item) for item in kind.item_types]
            is_alike = len(set(rules)) == 1
            text = f"a list of {len(rules)}"
            text += f", each {rules[0]}" if is_alike else f": {', '.join(rules)}"
        case mi.StructType() if len(kind.fields) <= FEW_KEYS:
            text = f"a table of {', '.join(each.encode_name for each in kind.fields)}"
        case _:
            text = _PLAIN_RULES.get(type(kind), "a table")
    return text


def _bounds(kind: mi.IntType | mi.FloatType) -> str:
    pairs = ((">", kind.gt), (">=", kind.ge), ("<", kind.lt), ("<=", kind.le))
    texts = [f"{sign} {_exact(bound)}" for sign, bound in pairs if bound is not None]
    return (" " + " and ".join(texts)) if texts else ""


def _exact(bound: float) -> str:
    return str(int(bound)) if bound == int(bound) and abs(bound) < 1e19 else f"{bound:g}"


def shown(value: Any) -> str:
    """A value as a builder would know it from the file, cut where it is long."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, int) and abs(value) > LARGEST_SHOWN:
        return "a number of more than 64 bits"
    text = repr(value) if isinstance(value, str | list | int | float) else str(value)
    return text if len(text) <= _LONGEST_SHOWN else text[: _LONGEST_SHOWN - 1] + "…"
