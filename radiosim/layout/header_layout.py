"""A struct of a C header as a scenario describes a layout."""

from collections.abc import Mapping
from difflib import get_close_matches
from typing import TYPE_CHECKING, cast

from radiosim.c_header.c_field import CField
from radiosim.errors import LayoutError
from radiosim.layout.description import Conversion, FieldDescription, LayoutDescription, TypeName

if TYPE_CHECKING:
    from radiosim.c_header.struct_reader import HeaderStruct

_LETTERS = {"unsigned": "u", "signed": "i", "float": "f"}
_WIDTHS = (8, 16, 32, 64)
_PLAIN = Conversion()


def described(read: "HeaderStruct", convert: Mapping[str, Conversion]) -> LayoutDescription:
    """The description of a struct; numbers without a conversion stand for themselves.

    Raises LayoutError, with paths that begin at the layout, for a conversion of no field.
    """
    names = [field.name for field in read.fields]
    unknown = tuple(
        (f"convert.{name}", _unknown(name, names)) for name in convert if name not in names
    )
    if unknown:
        raise LayoutError(unknown)
    return LayoutDescription(
        header=read.header,
        struct=read.struct,
        abi=read.abi.name,
        packed=False,
        fields=tuple(_described(field, convert.get(field.name)) for field in read.fields),
        convert=dict(convert),
        size_bytes=read.size_bytes,
    )


def _described(field: CField, conversion: Conversion | None) -> FieldDescription:
    width = next(width for width in _WIDTHS if width >= field.bits)
    low, high = field.values or (None, None)
    if conversion is not None or low == high:
        low = high = None
    used = conversion or _PLAIN
    return FieldDescription(
        name=field.name,
        type=cast("TypeName", f"{_LETTERS[field.kind]}{width}"),
        scale=used.scale,
        neutral=used.neutral,
        offset=used.offset,
        min=used.min if low is None else float(low),
        max=used.max if high is None else float(high),
        bits=field.bits if field.is_bit_field else None,
        at_bit=field.at_bit,
    )


def _unknown(name: str, names: list[str]) -> str:
    near = get_close_matches(name, names, n=1)
    hint = f", did you mean '{near[0]}'?" if near else ""
    few = ", ".join(names[:8]) + (f" and {len(names) - 8} more" if len(names) > 8 else "")
    return f"must be a field of the struct ({few}), got '{name}'{hint}"
