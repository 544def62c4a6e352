"""The JSON schema of a scenario file, and every key of it for the glossary."""

import json
from collections.abc import Iterator
from functools import cache
from typing import Any

import msgspec
from msgspec import inspect as mi

from radiosim.radio.air_frame import with_step
from radiosim.radio.profiles import PROFILES, Profile
from radiosim.safety import CAUTION
from radiosim.scenario.problems import rule
from radiosim.scenario.structs.scenario_file import ScenarioFile

KIND_MOVES = ("stream.duplicates", "output.servo_error_deg")
KIND_MEASURE = "watch the control while somebody drives: does it rest, jump, swing?"
"""Of the key that tells a signal's kind, which a struct's tag cannot carry."""


def json_schema() -> dict[str, Any]:
    """JSON schema (draft 2020-12): every key with meaning, unit, default, the figures that it
    moves and how to measure it.

    A default of null stands for a key that is filled in from others when it is left out.
    """
    schema: dict[str, Any] = json.loads(msgspec.json.encode(msgspec.json.schema(ScenarioFile)))
    for table in schema["$defs"].values():
        _describe_kind(table)
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$comment": CAUTION,
        **schema,
    }


def _describe_kind(table: dict[str, Any]) -> None:
    """Give the key that tells a signal's kind its meaning, which a struct's tag cannot carry."""
    kind = table.get("properties", {}).get("kind")
    if kind is not None and "description" not in kind:
        kind["description"] = f"kind of signal: {table['description'].splitlines()[0]}"
        kind |= {"moves": list(KIND_MOVES), "measure": KIND_MEASURE}


NAME = "NAME"
"""Stands in a path for what the user calls a table."""
NUMBER = "N"
"""Stands in a path for which element of a list is meant."""

KeyPath = tuple[str, ...]
_PROFILE_KEYS = set(Profile.__struct_fields__) - {"name"}


class Key(msgspec.Struct, frozen=True, kw_only=True):
    """One key of the scenario file, or a table of keys."""

    path: KeyPath
    """E.g. `("transmitter", "NAME", "period_ms")`."""
    meaning: str
    unit: str = ""
    allowed: str
    """What its value must be, in words."""
    default: str
    """Default as a file would say it; words where it follows from other keys."""
    moves: tuple[str, ...]
    """Figures that it moves most, without names; empty where it moves none."""
    measure: str
    """How to find it out; empty for a table."""
    of_kinds: tuple[str, ...] = ()
    """Kinds of signal that have it; empty where all have."""

    @property
    def is_table(self) -> bool:
        """Whether its own keys say all."""
        return not self.measure


@cache
def keys() -> tuple[Key, ...]:
    """Every key and table that a scenario file can have, in the order of the structs."""
    kind = mi.type_info(ScenarioFile)
    assert isinstance(kind, mi.StructType)
    merged: dict[tuple[KeyPath, str], Key] = {}
    for key in _of_struct(kind, ()):
        known = merged.setdefault((key.path, key.meaning), key)
        if known is not key:
            of_kinds = tuple(dict.fromkeys((*known.of_kinds, *key.of_kinds)))
            merged[key.path, key.meaning] = msgspec.structs.replace(known, of_kinds=of_kinds)
    return tuple(merged.values())


def _of_struct(kind: mi.StructType, path: KeyPath, tag: str = "") -> Iterator[Key]:
    for field in kind.fields:
        yield _key(field, (*path, field.encode_name), tag)
        for member in _members(field.type):
            yield from _inside(member, (*path, field.encode_name))


def _inside(kind: mi.Type, path: KeyPath) -> Iterator[Key]:
    """The keys of the tables that a key holds."""
    match kind:
        case mi.StructType():
            yield from _of_struct(kind, path)
        case mi.VarTupleType(item_type=mi.StructType() as struct):
            yield from _of_struct(struct, (*path, NUMBER))
        case mi.DictType(value_type=mi.StructType() as struct):
            yield from _of_struct(struct, (*path, NAME))
        case mi.DictType(value_type=mi.UnionType(types=kinds)):
            tagged = [kind for kind in kinds if isinstance(kind, mi.StructType)]
            yield _tag_key(tagged, (*path, NAME, "kind"))
            for kind_of_signal in tagged:
                yield from _of_struct(kind_of_signal, (*path, NAME), str(kind_of_signal.tag))


def _members(kind: mi.Type) -> tuple[mi.Type, ...]:
    kind = kind.type if isinstance(kind, mi.Metadata) else kind
    return kind.types if isinstance(kind, mi.UnionType) else (kind,)


def _key(field: mi.Field, path: KeyPath, tag: str) -> Key:
    described: dict[str, Any] = {}
    if isinstance(field.type, mi.Metadata):
        described = field.type.extra_json_schema or {}
    return Key(
        path=path,
        meaning=described["description"],
        unit=described.get("unit", ""),
        allowed=rule(field.type),
        default=_default(field, path),
        moves=tuple(described.get("moves", ())),
        measure=described.get("measure", ""),
        of_kinds=(tag,) if tag else (),
    )


def _tag_key(kinds: list[mi.StructType], path: KeyPath) -> Key:
    """The key that tells a table's kind, which no struct has as a field."""
    tags = ", ".join(str(kind.tag) for kind in kinds)
    return Key(
        path=path,
        meaning="kind of signal",
        allowed=f"one of {tags}",
        default="",
        moves=KIND_MOVES,
        measure=KIND_MEASURE,
    )


def _default(field: mi.Field, path: KeyPath) -> str:
    """The default as a file would say it; empty for a key that must be given."""
    if field.required:
        return ""
    if path[0] == "radio" and path[-1] in _PROFILE_KEYS:
        figures = (f"{_value(getattr(p, path[-1]))} ({name})" for name, p in PROFILES.items())
        return f"by profile: {', '.join(figures)}"
    if field.default is msgspec.NODEFAULT or isinstance(field.default, msgspec.Struct):
        return "left out"
    if path[-1] == "retry_delay_us":
        return with_step(field.default)
    return "left out" if field.default is None else _value(field.default)


def _value(value: Any) -> str:
    if isinstance(value, float):
        return f"{value:.10g}"
    if isinstance(value, tuple):
        return f"[{', '.join(_value(item) for item in value)}]"
    return json.dumps(value)
