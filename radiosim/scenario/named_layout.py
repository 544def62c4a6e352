"""A layout that somebody names, of a scenario or a header's struct, and its files."""

import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import suppress
from pathlib import Path as FilePath
from typing import Any

import msgspec
from msgspec.structs import replace

from radiosim.c_header.abi import ABIS, Abi
from radiosim.c_header.sources import prepared
from radiosim.c_header.struct_reader import HeaderStruct
from radiosim.errors import LayoutError, ScenarioError
from radiosim.layout import Layout, lay_out
from radiosim.layout.compare import OF_FILE, OF_LAYOUT, Comments, Values
from radiosim.layout.description import Conversion
from radiosim.layout.field import Field
from radiosim.layout.header_layout import described
from radiosim.scenario.named_files import (
    LARGEST_HEADER_BYTES,
    header_struct,
    header_structs,
    resolve_path,
    text_of_named,
)
from radiosim.scenario.read import document_of, load, load_layouts
from radiosim.scenario.structs.scenario_file import Scenario

NAMING = ("header", "file", "track_file")
"""Keys whose value is the name of a file."""


def files_of_scenario(path: FilePath, overrides: Iterable[str] = ()) -> tuple[FilePath, ...]:
    """A scenario file, and all that is read because it or an override names it.

    As far as it can be read: what is in the way is for its reader to say. A pipe is read once, by
    who simulates it.
    """
    if not path.is_file():
        return (path,)
    try:
        document = document_of(path, overrides)
    except ScenarioError:
        return (path,)
    files = [path]
    for key, name in _named(document):
        try:
            beside = resolve_path(name, path.parent)
        except ValueError:
            continue
        files += files_of_header(beside) if key == "header" else (beside,)
    return tuple(files)


def files_of_header(path: FilePath) -> tuple[FilePath, ...]:
    """A header, and what it includes from its own folder, as far as it can be read."""
    files = [path]

    def neighbour(name: str) -> str | None:
        try:
            text = text_of_named(name, path.parent, LARGEST_HEADER_BYTES)
        except ValueError:
            return None
        files.append(resolve_path(name, path.parent))
        return text

    with suppress(ValueError):
        text = text_of_named(str(path.absolute()), None, LARGEST_HEADER_BYTES)
        prepared(path.name, text, neighbour)
    return tuple(files)


def _named(value: Any) -> Iterator[tuple[str, str]]:
    """Each (key, name) in a document that stands for a file."""
    if isinstance(value, list):
        for item in value:
            yield from _named(item)
    elif isinstance(value, dict):
        for key, item in value.items():
            if key in NAMING and isinstance(item, str):
                yield key, item
            else:
                yield from _named(item)


LONGEST_BYTES = 4096
"""Frames that can be looked at; far more than can be sent."""
_SCENARIO = ".toml"
_SCALE = re.compile(
    r"\d|%|\b(?:percent|per|of|deg|degrees?|rad|radians?|[mu]s|scaled?|full|half|units?|in)\b",
    re.IGNORECASE,
)
"""Words of a comment that may be said of a scale."""
_IN_KEYS = "scales as its scenario's keys give them"


class NamedLayout(msgspec.Struct, frozen=True, kw_only=True):
    """A layout, and what else is known about it."""

    label: str
    """The layout's name as it was asked for."""
    layout: Layout
    abi: Abi | None
    """Whose compiler laid it out; None: none did, or all do alike."""
    targets: Mapping[str, HeaderStruct]
    """The struct as each target has it; empty for a layout of a scenario."""
    scenario: Scenario | None
    """The scenario around it, if it is sound."""
    source: HeaderStruct | None = None
    """The struct that a scenario's layout was read from; None: it stands in the scenario."""

    @property
    def struct(self) -> HeaderStruct | None:
        """The struct it was read from; None for a layout of a scenario."""
        name = self.abi.name if self.abi else next(iter(self.targets), None)
        return self.targets.get(name) if name else None

    @property
    def header(self) -> HeaderStruct | None:
        """The struct whose header says what its fields mean; None: a scenario's keys do."""
        return self.struct or self.source

    @property
    def is_alike(self) -> bool:
        """Is it the same for every target, as far as the wire goes?"""
        return _are_alike(self.targets)


def named_layout(
    argument: str, scenario_path: Callable[[str], FilePath], *, any_target: bool = False
) -> NamedLayout:
    """The layout that `SCENARIO.toml:NAME` or `HEADER:STRUCT@ABI` names.

    The name may be left out where a scenario has one layout, and the target where all compilers lay
    the struct out alike; with `any_target` always. `scenario_path` finds a scenario by file or
    name. Raises LayoutError or ScenarioError."""
    file, name, abi = _parts(argument)
    if _is_scenario(file, abi):
        return _of_scenario(argument, scenario_path(file), name)
    return _of_header(argument, FilePath(file), name, abi, any_target=any_target)


def files_of_layout(
    argument: str, scenario_path: Callable[[str], FilePath]
) -> tuple[FilePath, ...]:
    """Every file that a layout is read from, named as for `named_layout`; ScenarioError too."""
    file, _, abi = _parts(argument)
    return (
        files_of_scenario(scenario_path(file))
        if _is_scenario(file, abi)
        else files_of_header(FilePath(file))
    )


def _parts(argument: str) -> tuple[str, str, str]:
    """File, name and target; empty where they were left out."""
    file, _, rest = argument.rpartition(":")
    if not file:
        file, rest = rest, ""
    name, _, abi = rest.partition("@")
    return file, name, abi


def _is_scenario(file: str, abi: str) -> bool:
    return FilePath(file).suffix in (_SCENARIO, "") and not abi


def comments_of(before: NamedLayout, after: NamedLayout) -> tuple[Comments, Comments]:
    """What two layouts say of their fields' scales, where both say something."""
    if before.header is not None and after.header is not None:
        return _said_in(before.header), _said_in(after.header)
    old, new = (_said_of(named) for named in (before, after))
    both = [key for key in old if old[key] and new.get(key)]
    return {key: old[key] for key in both}, {key: new[key] for key in both}


def values_of(before: NamedLayout, after: NamedLayout) -> tuple[Values, Values]:
    """What two headers give a name to besides their fields; nothing where one of them is none."""
    if before.header is None or after.header is None:
        return {}, {}
    return before.header.values, after.header.values


def _said_in(header: HeaderStruct) -> Comments:
    said = {field.name: field.comment for field in header.fields}
    return {**said, OF_LAYOUT: header.comment, OF_FILE: header.of_file}


def _said_of(named: NamedLayout) -> Comments:
    """What a header's comments say of scales, or a scenario's keys."""
    if named.header is not None:
        return {key: said for key, said in _said_in(named.header).items() if _SCALE.search(said)}
    fields = {field.name: _keys_of(field) for field in named.layout.fields}
    return {**fields, OF_LAYOUT: _IN_KEYS, OF_FILE: _IN_KEYS}


def _keys_of(field: Field) -> str:
    return f"scale = {field.scale:g}, neutral = {field.neutral:g}, offset = {field.offset:g}"


def with_units_of(named: NamedLayout, other: NamedLayout) -> NamedLayout:
    """A header's struct, whose numbers stand for themselves, with the units of a scenario's layout.

    Fields of one name get the other's conversion where they can carry it. Anything else is left as
    it is.
    """
    if named.struct is None or other.struct is not None:
        return named
    layout = named.layout
    convert: dict[str, Conversion] = {}
    for field in other.layout.fields:
        if any(mine.name == field.name for mine in layout.fields):
            units = Conversion(
                scale=field.scale,
                neutral=field.neutral,
                offset=field.offset,
                min=field.minimum,
                max=field.maximum,
            )
            try:
                layout = _laid_out(named.struct, {**convert, field.name: units})
            except LayoutError:
                continue
            convert[field.name] = units
    return replace(named, layout=layout)


def _laid_out(struct: HeaderStruct, convert: Mapping[str, Conversion]) -> Layout:
    return lay_out(struct.struct, described(struct, convert), longest_bytes=LONGEST_BYTES)


def _of_scenario(argument: str, path: FilePath, name: str) -> NamedLayout:
    try:
        scenario = load(path)
    except ScenarioError:
        scenario = None
    layouts = load_layouts(path, LONGEST_BYTES) if scenario is None else scenario.layouts()
    known = ", ".join(layouts) or "none"
    if not name and len(layouts) == 1:
        name = next(iter(layouts))
    if name not in layouts:
        got = f"'{name}'" if name else "no name"
        raise _refused(
            argument, f"must be {path.name}:NAME with a layout's name ({known}), got {got}"
        )
    return NamedLayout(
        label=argument,
        layout=layouts[name],
        abi=None,
        targets={},
        scenario=scenario,
        source=None if scenario is None else _source(scenario, path, name),
    )


def _source(scenario: Scenario, path: FilePath, name: str) -> HeaderStruct | None:
    """The struct of a header that a scenario's layout was read from, if it was."""
    given = scenario.layout.get(name)
    if given is None or not given.header:
        return None
    return header_struct(resolve_path(given.header, path.parent), given.struct, given.abi)


def _of_header(
    argument: str, path: FilePath, name: str, abi: str, *, any_target: bool
) -> NamedLayout:
    if not name:
        raise _refused(argument, f"must be {path}:STRUCT or {path}:STRUCT@ABI, got no struct")
    if abi and abi not in ABIS:
        raise _refused(argument, f"must end in @ and one of {', '.join(ABIS)}, got @{abi}")
    try:
        found = header_structs(path, name)
    except ValueError as error:
        raise _refused(argument, str(error)) from None
    targets = {one: struct for one, struct in found.items() if isinstance(struct, HeaderStruct)}
    # A header may refuse targets that it is not for.
    asked = found.get(abi or next(iter(targets), list(ABIS)[-1]))
    if isinstance(asked, LayoutError):
        raise asked
    chosen = ABIS[abi] if abi else None
    if chosen is None and not any_target and not _are_alike(targets):
        raise _refused(argument, _must_choose(argument, targets))
    struct = targets[abi or next(iter(targets))]
    layout = _laid_out(struct, {})
    return NamedLayout(label=argument, layout=layout, abi=chosen, targets=targets, scenario=None)


def _are_alike(targets: Mapping[str, HeaderStruct]) -> bool:
    """Is a struct the same for every target, as far as the wire goes?"""
    shapes = {
        (
            struct.size_bytes,
            tuple((field.name, field.kind, field.at_bit, field.bits) for field in struct.fields),
        )
        for struct in targets.values()
    }
    return len(shapes) <= 1


def _must_choose(argument: str, targets: Mapping[str, HeaderStruct]) -> str:
    sizes = ", ".join(f"{name} {struct.size_bytes}" for name, struct in targets.items())
    return (
        f"must say whose compiler, as {argument}@{next(iter(targets))}: they lay it out "
        f"differently (bytes: {sizes}); radiosim layout check {argument} says why"
    )


def _refused(argument: str, text: str) -> LayoutError:
    return LayoutError(((argument, text),))
