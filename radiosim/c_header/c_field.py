"""One number of a struct, and how a number's bits are read."""

from dataclasses import dataclass
from typing import Literal

Kind = Literal["unsigned", "signed", "float"]


@dataclass(frozen=True, slots=True, kw_only=True)
class CField:
    """One number of a struct, as one target's compiler lays it out."""

    name: str
    """Path in the struct, with underscores between."""
    c_type: str
    """Type of the field as written in the header."""
    base: str
    """plain, bool, enum or char: what its size or sign hangs on besides the type's name."""
    kind: Kind
    """How its bits are read."""
    at_bit: int
    """Bits of the struct before its lowest bit."""
    bits: int
    """Width of the field in bits."""
    is_bit_field: bool
    """Is its width given in bits?"""
    values: tuple[int, int] | None
    """Lowest and highest value of a bool or enum; None: what its bits can hold."""
    file: str
    """Where it is declared."""
    line: int
    comment: str = ""
    """What the comments at its declaration say."""
