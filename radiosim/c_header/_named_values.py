"""What a header gives a name to besides its fields: numbers that scale them, and how."""

import re
from collections.abc import Iterator, Mapping
from typing import Any

from radiosim.c_header._parse import ROOT
from radiosim.c_header._struct_fields import file_of
from radiosim.c_header.sources import Sources

_DEFINE = re.compile(
    r"^[ \t]*(?:#|%:|\?\?=)[ \t]*define[ \t]+(?P<name>\w+)(?P<rest>\([^\n]*|[ \t]+[^\n]*)$",
    re.MULTILINE,
)
_LOOSE = re.compile(r" (?=[;,.)\]])|(?<=[(\[.]) ")
"""Spaces between tokens that nobody writes."""
_WORD = re.compile(r"\w+")
_CODE = ("FUNCTION_DECL", "CXX_METHOD", "CONVERSION_FUNCTION")
_SPACES = ("NAMESPACE", "LINKAGE_SPEC", "UNEXPOSED_DECL")


def named_values(root: Any, struct: Any, sources: Sources) -> Mapping[str, str]:
    """What macros, constants and enumerators stand for, and what functions do, by name.

    Left out is what the struct's own lines name: its layout shows that.
    """
    shown = set(_WORD.findall(_tokens_of_members(struct)))
    found = {
        match["name"]: " ".join(match["rest"].split())
        for path, text in sources.files.items()
        if path.startswith(f"{ROOT}/")
        for match in _DEFINE.finditer(text)
    }
    for cursor in (*declared_in(root), *struct.get_children()):
        found |= dict(_of_cursor(cursor))
    return {name: value for name, value in found.items() if value and name not in shown}


def declared_in(cursor: Any) -> Iterator[Any]:
    """Declarations that stand in no other, namespaces and the like seen through."""
    for child in cursor.get_children():
        if child.kind.name in _SPACES:
            yield from declared_in(child)
        else:
            yield child


def _of_cursor(cursor: Any) -> Iterator[tuple[str, str]]:
    kind = cursor.kind.name
    if file_of(cursor).startswith("/"):
        return
    if kind == "ENUM_DECL":
        for child in cursor.get_children():
            if child.kind.name == "ENUM_CONSTANT_DECL":
                yield child.spelling, str(child.enum_value)
    elif kind == "VAR_DECL":
        yield cursor.spelling, _tokens(cursor).partition("=")[2].strip()
    elif kind in _CODE:
        yield cursor.spelling, _tokens(cursor).partition("{")[2].removesuffix("}").strip()


def _tokens_of_members(struct: Any) -> str:
    return " ".join(
        _tokens(child) for child in struct.get_children() if child.kind.name not in _CODE
    )


def _tokens(cursor: Any) -> str:
    text = " ".join(token.spelling for token in cursor.get_tokens())
    return _LOOSE.sub("", text)
