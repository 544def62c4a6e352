"""From a struct's declaration to a flat row of fields, or to what cannot be sent and why."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from radiosim.c_header._parse import ROOT
from radiosim.c_header.c_field import CField, Kind

MOST_FIELDS = 4096
"""Fields of a struct; a payload has room for 256 of a bit each."""

DEEPEST = 40
"""Underscores in a field's joined name; a struct inside itself has no end."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Refused:
    """A member that cannot be sent."""

    file: str
    line: int
    text: str
    """Name of the field, what it must be and what it is."""


_REASONS = {
    "POINTER": ("a pointer", "an address means nothing at the other end; send the value"),
    "LVALUEREFERENCE": ("a reference", "it is an address; send the value"),
    "RVALUEREFERENCE": ("a reference", "it is an address; send the value"),
    "MEMBERPOINTER": ("a pointer", "an address means nothing at the other end; send the value"),
    "INCOMPLETEARRAY": ("an array without a size", "a frame has one length; give the size"),
    "VARIABLEARRAY": ("an array without a fixed size", "a frame has one length; give the size"),
    "LONGDOUBLE": ("a long double", "its size differs by compiler; use float or an integer"),
    "WCHAR": ("a wchar_t", "its size differs by compiler; use uint16_t or uint32_t"),
    "INT128": ("a 128-bit integer", "no small target has it; use two of 64 bits"),
    "UINT128": ("a 128-bit integer", "no small target has it; use two of 64 bits"),
}
_SIGNED = {"SCHAR", "CHAR_S", "SHORT", "INT", "LONG", "LONGLONG"}
_UNSIGNED = {
    "UCHAR",
    "CHAR_U",
    "USHORT",
    "UINT",
    "ULONG",
    "ULONGLONG",
    "BOOL",
    "CHAR16",
    "CHAR32",
}
_FLOATS = {"FLOAT", "DOUBLE"}
_METHODS = {"CXX_METHOD", "DESTRUCTOR", "CONSTRUCTOR", "CONVERSION_FUNCTION"}


def fields_of(struct: Any) -> Iterator[CField | Refused]:
    """Every number of a struct's declaration (a clang cursor), in order, and what is refused."""
    yield from _members(struct, "", 0)


def _members(struct: Any, prefix: str, at_bit: int) -> Iterator[CField | Refused]:
    named = {
        child.type.get_canonical().get_declaration().hash
        for child in struct.get_children()
        if child.kind.name == "FIELD_DECL"
    }
    for child in struct.get_children():
        kind = child.kind.name
        is_unnamed = child.hash not in named and child.is_anonymous()
        if kind == "FIELD_DECL":
            if child.spelling or _is_record(child):  # other unnamed ones are padding bits
                yield from _of_field(child, prefix, at_bit)
        elif kind == "CXX_BASE_SPECIFIER":
            text = f"must stand alone, got the base {child.type.spelling}; write its fields in"
            yield _refused(child, f"{struct.spelling}: {text}")
        elif kind in _METHODS and child.is_virtual_method():
            text = "must not be virtual: the struct then holds an address; make it a plain function"
            yield _refused(child, f"{prefix}{child.spelling}: {text}")
        elif kind == "UNION_DECL" and is_unnamed:
            yield _refused(child, _union_text(f"{prefix}(unnamed)"))
        elif kind in ("STRUCT_DECL", "CLASS_DECL") and is_unnamed:
            yield from _of_unnamed(child, prefix, at_bit, struct)


def _of_unnamed(inner: Any, prefix: str, at_bit: int, struct: Any) -> Iterator[CField | Refused]:
    """Members of a struct without a name, which count as those of the one around it."""
    first = next(
        (c for c in inner.get_children() if c.kind.name == "FIELD_DECL" and c.spelling), None
    )
    if first is None:
        return
    inside = max(inner.type.get_offset(first.spelling), 0)
    outside = struct.type.get_offset(first.spelling)
    yield from _members(inner, prefix, at_bit + outside - inside)


def _of_field(field: Any, prefix: str, at_bit: int) -> Iterator[CField | Refused]:
    # Below 0 where the struct has no layout: it is refused for another of its members.
    at_bit += max(field.get_field_offsetof(), 0)
    name = prefix + field.spelling
    if field.is_bitfield():
        yield _number(field, field.type, name, at_bit, field.get_bitfield_width())
    else:
        yield from _of_type(field, field.type, name, at_bit)


def _of_type(field: Any, type_: Any, name: str, at_bit: int) -> Iterator[CField | Refused]:
    """The numbers that a member of some type holds."""
    real = type_.get_canonical()
    kind = kind_of(real)
    if kind == "CONSTANTARRAY":
        written = type_.get_array_element_type()
        element = written if kind_of(written) != "INVALID" else real.get_array_element_type()
        size = element.get_size()
        for index in range(min(real.get_array_size(), MOST_FIELDS)):
            yield from _of_type(field, element, f"{name}_{index}", at_bit + 8 * size * index)
    elif kind == "RECORD":
        declared = real.get_declaration()
        if declared.kind.name == "UNION_DECL":
            yield _refused(field, _union_text(name))
        elif name.count("_") > DEEPEST:
            yield _refused(field, f"{name}: must lie in at most {DEEPEST} structs, got more")
        else:
            yield from _members(declared, f"{name}_" if name else "", at_bit)
    else:
        yield _number(field, type_, name, at_bit, None)


def kind_of(type_: Any) -> str:
    """Name of a type's kind; empty for one that the bindings do not know."""
    try:
        return str(type_.kind.name)
    except ValueError:
        return ""


def _number(field: Any, type_: Any, name: str, at_bit: int, width: int | None) -> CField | Refused:
    real = type_.get_canonical()
    kind = kind_of(real)
    base, values = "plain", None
    if kind == "ENUM":
        base, declared = "enum", real.get_declaration()
        listed = [
            child.enum_value
            for child in declared.get_children()
            if child.kind.name == "ENUM_CONSTANT_DECL"
        ]
        values = (min(listed), max(listed)) if listed else None
        kind = kind_of(declared.enum_type.get_canonical())
    elif kind == "BOOL":
        base, values = "bool", (0, 1)
    elif kind in ("CHAR_S", "CHAR_U"):
        base = "char"
    if kind in _REASONS:
        what, why = _REASONS[kind]
        return _refused(field, f"{name}: must be a number, got {what}: {why}")
    if kind not in _SIGNED | _UNSIGNED | _FLOATS:
        return _refused(field, f"{name}: must be a number, got {type_.spelling}")
    widest = 8 * real.get_size()
    if width is not None and width > widest:
        return _refused(field, f"{name}: must be at most {widest} bits, got {width}")
    if kind in _SIGNED:
        sign: Kind = "signed"
    else:
        sign = "float" if kind in _FLOATS else "unsigned"
    return CField(
        name=name,
        c_type=_written(field, type_, width),
        base=base,
        kind=sign,
        at_bit=at_bit,
        bits=widest if width is None else width,
        is_bit_field=width is not None,
        values=values,
        file=file_of(field),
        line=field.location.line,
    )


def _written(field: Any, type_: Any, width: int | None) -> str:
    spelled = str(type_.spelling).removeprefix("volatile ").removeprefix("const ")
    return spelled if width is None else f"{spelled} : {width}"


def _is_record(field: Any) -> bool:
    return bool(kind_of(field.type.get_canonical()) == "RECORD")


def _union_text(name: str) -> str:
    text = "must be one number, got a union, which does not say what was sent; write that member"
    return f"{name}: {text}"


def _refused(cursor: Any, text: str) -> Refused:
    return Refused(file=file_of(cursor), line=cursor.location.line, text=text)


def file_of(cursor: Any) -> str:
    """Name of the file that a cursor stands in, as the user knows it."""
    found = cursor.location.file
    return "" if found is None else str(found.name).removeprefix(f"{ROOT}/")
