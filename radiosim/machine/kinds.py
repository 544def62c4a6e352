"""Kinds of values in machine code: numbers, records and arrays in memory, tuples."""

import functools
import struct
from typing import Any, NamedTuple, TypeAlias, Union

import numpy as np

I1, I64, F64, VOID = "i1", "i64", "double", "void"
NUMBERS = (I1, I64, F64)
"""From the narrowest to the widest."""
UNKNOWN_LENGTH = -1
UNARY = ("acos", "asin", "atan", "cos", "exp", "expm1", "log", "log10", "log1p", "sin", "tan")
"""Of a float, as the C library that Python itself calls computes them."""
OF_C = (*UNARY, "fmod", "frexp")
"""All that is called there, by names that LLVM does not know: what it makes of fmod of what is no
number is poison (LLVM 22)."""


class CompileError(TypeError):
    """Python that machine code cannot be made of: where it stands, and what to write instead."""


class Apart:
    """What a function of plain Python is wrapped in, if it has code of its own."""


class RecordKind(NamedTuple):
    """A record in memory, by its address."""

    dtype: np.dtype[Any]

    @functools.cache  # noqa: B019 - kinds live as long as the code that is made of them
    def field(self, name: str) -> tuple[int, "Kind"] | None:
        """Offset and kind of a field; None: there is no such field."""
        if self.dtype.fields is None or name not in self.dtype.fields:
            return None
        found = self.dtype.fields[name]
        return found[1], kind_of(found[0])


class ArrayKind(NamedTuple):
    """An array in memory: by its address if its length is known, else by address and length."""

    of: "Kind"
    stride: int
    length: int


class TupleKind(NamedTuple):
    """A tuple by value; `names`: those of a NamedTuple."""

    of: tuple["Kind", ...]
    names: tuple[str, ...] = ()


Kind: TypeAlias = Union[str, RecordKind, ArrayKind, TupleKind]  # noqa: UP007 - names are not yet known


@functools.cache
def kind_of(dtype: np.dtype[Any]) -> Kind:
    """The kind of what stands in a field or an array of numpy's."""
    if dtype.subdtype is not None:
        base, (length, *more) = dtype.subdtype
        inner = np.dtype((base, tuple(more))) if more else base
        return ArrayKind(kind_of(inner), inner.itemsize, length)
    if dtype.names is not None:
        return RecordKind(dtype)
    if dtype in (np.int64, np.float64):
        return I64 if dtype == np.int64 else F64
    raise CompileError(f"numbers of type {dtype} have no machine code; make them int64 or float64")


def in_llvm(kind: Kind) -> str:
    """A kind as LLVM writes it."""
    if isinstance(kind, str):
        return kind
    if isinstance(kind, RecordKind):
        return "ptr"
    if isinstance(kind, ArrayKind):
        return "ptr" if kind.length >= 0 else "{ptr, i64}"
    return "{" + ", ".join(map(in_llvm, kind.of)) + "}"


def in_c(kind: Kind) -> list[str]:
    """What C takes for an argument: numbers of 64 bits and addresses, as LLVM writes them."""
    if isinstance(kind, TupleKind):
        return [text for part in kind.of for text in in_c(part)]
    if isinstance(kind, ArrayKind) and kind.length < 0:
        return ["ptr", I64]
    return [I64 if kind == I1 else in_llvm(kind)]


@functools.cache
def layout_of(kind: Kind) -> str:
    """All that machine code takes for granted of a kind."""
    if isinstance(kind, str):
        return kind
    if isinstance(kind, ArrayKind):
        return f"[{kind.length} {kind.stride} {layout_of(kind.of)}]"
    if isinstance(kind, TupleKind):
        return f"({' '.join(map(layout_of, kind.of))}: {' '.join(kind.names)})"
    fields = ((name, kind.field(name)) for name in kind.dtype.names or ())
    inner = " ".join(f"{n}@{found[0]}:{layout_of(found[1])}" for n, found in fields if found)
    return f"{{{kind.dtype.itemsize} {inner}}}"


def in_words(kind: Kind) -> str:
    """A kind as a message names it."""
    if isinstance(kind, str):
        return {I1: "a bool", I64: "an int", F64: "a float", VOID: "nothing"}[kind]
    if isinstance(kind, RecordKind):
        return f"a record of {', '.join((kind.dtype.names or ())[:3])}, …"
    if isinstance(kind, ArrayKind):
        return f"an array, each {in_words(kind.of)},"
    return f"a tuple of {', '.join(map(in_words, kind.of))}"


def double(value: float) -> str:
    """A float as LLVM writes it, to the last bit."""
    return f"0x{struct.unpack('<Q', struct.pack('<d', value))[0]:016X}"


def wrapped(value: int) -> int:
    """A whole number as 64 bits hold it."""
    return ((value + (1 << 63)) & ((1 << 64) - 1)) - (1 << 63)
