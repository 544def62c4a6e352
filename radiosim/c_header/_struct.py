"""A struct found in a parsed header, and laid out: what the process of the parser finds."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from radiosim.c_header._named_values import declared_in, named_values
from radiosim.c_header._parse import ROOT, Unit, parsed
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
from radiosim.c_header.sources import Sources
from radiosim.errors import LayoutError

_STRUCTS = ("STRUCT_DECL", "CLASS_DECL")
_AROUND = ("NAMESPACE", "LINKAGE_SPEC", "UNEXPOSED_DECL", *_STRUCTS)
_HAVE_COMMENTS = (*_STRUCTS, "UNION_DECL", "CLASS_TEMPLATE", "FUNCTION_DECL", "FUNCTION_TEMPLATE")
"""Declarations whose comments are about nothing else."""
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
    assumed: tuple[str, ...]
    """Types that were taken to mean what firmware means by them."""
    comment: str
    """What the comments before the struct, and those in it that belong to no field, say."""
    of_file: str
    """What the comments say that stand at the top of a file, or at a line that is no
    part of another struct or a function."""
    values: Mapping[str, str]
    """Macros, constants, enumerators and functions: what stands behind each name."""


def found_struct(main: str, sources: Sources, struct: str, abi: Abi) -> FoundStruct:
    """The struct of that name in the header `main` of these sources, read as C++, else as C.

    Raises LayoutError with every member that cannot be sent, by line; and for a struct that is not
    there.
    """
    problems: tuple[tuple[str, str], ...] = ()
    for language in range(_LANGUAGES):
        unit = parsed(main, sources.files, abi, language)
        try:
            return _laid_out(main, unit, struct, sources)
        except LayoutError as error:
            problems = problems or error.problems  # C++ has the better words
    raise LayoutError(problems)


def _laid_out(header: str, unit: Unit, struct: str, sources: Sources) -> FoundStruct:
    declared = _found(header, unit, struct)
    fields: list[CField] = []
    refused = _not_taken(unit, declared, struct, sources.ignored)
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
        fields=tuple(_with_comment(field, sources) for field in fields),
        assumed=unit.assumed,
        comment=_comment_of(declared, fields, sources),
        of_file=_of_files(unit, declared, sources),
        values=named_values(unit.root, declared, sources),
    )


def _with_comment(field: CField, sources: Sources) -> CField:
    said = sources.comments.get(field.file, {}).get(field.line, "")
    return replace(field, comment=said)


def _comment_of(declared: Any, fields: list[CField], sources: Sources) -> str:
    """Comments of the struct's lines on which no field stands."""
    file, first, last = _span(declared)
    taken = {field.line for field in fields if field.file == file}
    lines = sources.comments.get(file, {})
    return "; ".join(
        lines[line] for line in sorted(lines) if first <= line <= last and line not in taken
    )


def _of_files(unit: Unit, struct: Any, sources: Sources) -> str:
    """Comments outside the struct that are not about another, or about a function."""
    declared = [_span(c) for c in declared_in(unit.root) if c.kind.name in _HAVE_COMMENTS]
    top = {file: _first_line(sources.files[f"{ROOT}/{file}"]) for file in sources.comments}
    own = _span(struct)
    return "; ".join(
        said[line]
        for file, said in sources.comments.items()
        for line in sorted(said)
        if not _is_in(own, file, line)
        if line == top[file] or not any(_is_in(span, file, line) for span in declared)
    )


def _first_line(plain: str) -> int:
    return next((n for n, line in enumerate(plain.split("\n"), 1) if line.strip()), 0)


def _is_in(span: tuple[str, int, int], file: str, line: int) -> bool:
    name, first, last = span
    return file == name and first <= line <= last


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
