"""A struct found in a parsed header, and laid out: what the process of the parser finds."""

from dataclasses import dataclass
from typing import Any

from radiosim.c_header._parse import Unit, parsed
from radiosim.c_header._struct_fields import (
    DEEPEST,
    MOST_FIELDS,
    Refused,
    fields_of,
    file_of,
    kind_of,
)
from radiosim.c_header.abi import Abi
from radiosim.c_header.c_field import CField
from radiosim.errors import LayoutError

_STRUCTS = ("STRUCT_DECL", "CLASS_DECL")
_AROUND = ("NAMESPACE", "LINKAGE_SPEC", "UNEXPOSED_DECL", *_STRUCTS)
_LANGUAGES = 2
_SAID_BETTER = ("flexible array member", "anonymous union", "reference member")
"""Errors of the parser about members that are refused in our own words."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundStruct:
    """A struct of a header, laid out."""

    size_bytes: int
    """What `sizeof` says on the target."""
    fields: tuple[CField, ...]
    """Numbers of the struct, in order."""
    span: tuple[str, int, int]
    """File, first and last line of its declaration."""
    assumed: tuple[str, ...]
    """Types that were taken to mean what firmware means by them."""


def found_struct(
    main: str, files: dict[str, str], ignored: tuple[str, ...], struct: str, abi: Abi
) -> FoundStruct:
    """The struct of that name in the header `main` of these files, read as C++, else as C.

    `ignored`: headers that were left out. Raises LayoutError with every member that cannot be sent,
    by line; and for a struct that is not there.
    """
    problems: tuple[tuple[str, str], ...] = ()
    for language in range(_LANGUAGES):
        unit = parsed(main, files, abi, language)
        try:
            return _laid_out(main, unit, struct, ignored)
        except LayoutError as error:
            problems = problems or error.problems  # C++ has the better words
    raise LayoutError(problems)


def _laid_out(header: str, unit: Unit, struct: str, ignored: tuple[str, ...]) -> FoundStruct:
    declared = _found(header, unit, struct)
    fields: list[CField] = []
    refused = _not_taken(unit, declared, struct, ignored)
    for item in fields_of(declared):
        if isinstance(item, Refused):
            refused.append((f"{item.file}:{item.line}", item.text))
        else:
            fields.append(item)
        if len(fields) + len(refused) > MOST_FIELDS:
            text = f"{struct}: must have at most {MOST_FIELDS} numbers, got more"
            raise LayoutError(((_place(declared), text),))
    refused += _names_twice(fields)
    if not fields and not refused:
        refused.append((_place(declared), f"{struct}: must have at least one number, got none"))
    if not refused and not _is_sound(fields, declared.type.get_size()):
        text = f"{struct}: must be a struct that can be laid out, got one with mistakes"
        refused.append((_place(declared), text + _first_error(unit)))
    if refused:
        raise LayoutError(tuple(sorted(set(refused), key=_by_line)))
    return FoundStruct(
        size_bytes=declared.type.get_size(),
        fields=tuple(fields),
        span=_span(declared),
        assumed=unit.assumed,
    )


def _found(header: str, unit: Unit, struct: str) -> Any:
    """The declaration of the struct; LayoutError with the names there are."""
    known: dict[str, Any] = {}
    for cursor in _declarations(unit.root):
        declared = cursor
        if cursor.kind.name == "TYPEDEF_DECL":
            declared = cursor.underlying_typedef_type.get_canonical().get_declaration()
        if declared.kind.name == "UNION_DECL" and cursor.spelling == struct:
            text = f"{struct}: must be a struct, got a union, which does not say what was sent"
            raise LayoutError(((_place(declared), text),))
        if declared.kind.name == "CLASS_TEMPLATE" and cursor.spelling == struct:
            text = f"{struct}: must be a struct, got a template; name a plain struct"
            raise LayoutError(((_place(declared), text),))
        if declared.kind.name in _STRUCTS and declared.get_definition() is not None:
            known.setdefault(cursor.spelling, declared.get_definition())
    if struct not in known:
        names = ", ".join(name for name in known if name and " " not in name) or "none"
        text = f"must have a struct {struct}, got {names}"
        if names == "none":
            text += _first_error(unit)
        raise LayoutError(((header, text),))
    return known[struct]


def _first_error(unit: Unit) -> str:
    """What the parser did not take first; empty if it took all."""
    if not unit.errors:
        return ""
    _, line, what = unit.errors[0]
    return f"; line {line} was not understood: {what}"


def _is_sound(fields: list[CField], size_bytes: int) -> bool:
    """Does every field have bits of its own inside the struct?"""
    end = 0
    for field in sorted(fields, key=lambda field: field.at_bit):
        if field.at_bit < end:
            return False
        end = field.at_bit + field.bits
    return end <= 8 * size_bytes


def _declarations(cursor: Any) -> list[Any]:
    """Every declaration of a header, those inside namespaces and other structs too."""
    found = []
    for child in cursor.get_children():
        found.append(child)
        if child.kind.name in _AROUND:
            found += _declarations(child)
    return found


def _not_taken(
    unit: Unit, declared: Any, struct: str, ignored: tuple[str, ...]
) -> list[tuple[str, str]]:
    """What the parser did not take inside the struct, or in what it is made of."""
    spans = [_span(part) for part in (declared, *_parts(declared))]
    hint = f"; not read: {', '.join(ignored)}" if ignored else ""
    return [
        (f"{file}:{line}", f"{struct}: must be C that can be read, got {text}{hint}")
        for file, line, text in unit.errors
        if any(file == name and first <= line <= last for name, first, last in spans)
        and not any(reason in text for reason in _SAID_BETTER)
    ]


def _parts(declared: Any, depth: int = 0) -> list[Any]:
    """Declarations of the types that a struct's members have, arrays seen through."""
    found: list[Any] = []
    if depth > DEEPEST:
        return found
    for child in declared.get_children():
        if child.kind.name != "FIELD_DECL":
            continue
        real = child.type.get_canonical()
        while kind_of(real) == "CONSTANTARRAY":
            real = real.get_array_element_type().get_canonical()
        if kind_of(real) in ("RECORD", "ENUM"):
            part = real.get_declaration()
            found += [part, *(_parts(part, depth + 1) if kind_of(real) == "RECORD" else [])]
    return found


def _span(cursor: Any) -> tuple[str, int, int]:
    return file_of(cursor), cursor.extent.start.line, cursor.extent.end.line


def _place(cursor: Any) -> str:
    return f"{file_of(cursor)}:{cursor.extent.start.line}"


def _by_line(problem: tuple[str, str]) -> tuple[str, int, str]:
    file, _, line = problem[0].rpartition(":")
    return file, int(line), problem[1]


def _names_twice(fields: list[CField]) -> list[tuple[str, str]]:
    """Members that come to the same name once their paths are joined."""
    lines: dict[str, int] = {}
    twice = []
    for field in fields:
        if field.name in lines:
            text = "must be a name that no other member comes to"
            place = f"{field.file}:{field.line}"
            twice.append((place, f"{field.name}: {text}, got line {lines[field.name]} too"))
        lines.setdefault(field.name, field.line)
    return twice
