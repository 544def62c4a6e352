"""Functions that Python calls and that run as machine code."""

import ctypes
import functools
import struct
import sys
import threading
from collections.abc import Callable
from typing import Any, TypeVar, get_type_hints

import numpy as np

from radiosim.machine import kept
from radiosim.machine.kinds import (
    F64,
    I1,
    I64,
    UNKNOWN_LENGTH,
    Apart,
    ArrayKind,
    CompileError,
    Kind,
    TupleKind,
    in_c,
    kind_of,
)

F = TypeVar("F", bound=Callable[..., Any])

_NUMBERS = {
    bool: I1,
    np.bool_: I1,
    int: I64,
    np.int64: I64,
    float: F64,
    np.float64: F64,
}
_TYPES: dict[str, Any] = {I64: ctypes.c_int64, F64: ctypes.c_double, "ptr": ctypes.c_void_p}
_RETURNED = {"": None, "q": ctypes.c_int64, "?": ctypes.c_int64, "d": ctypes.c_double}
_lock = threading.Lock()


def compiled(function: F) -> F:
    """A function as machine code, made at its first call with arguments of some kinds."""
    made: F = functools.update_wrapper(Root(function), function)  # type: ignore[assignment]
    return made


class Root(Apart):
    """A function that runs as machine code; other threads of Python run meanwhile."""

    def __init__(self, function: Callable[..., Any]) -> None:
        self.function = function
        self.made: dict[tuple[Any, ...], Callable[[list[Any]], Any]] = {}
        """By kinds of arguments: what calls the code with them one by one."""

    def __call__(self, *arguments: Any) -> Any:
        """Call the code."""
        return self.bound(*arguments)()

    def bound(self, *arguments: Any) -> Callable[[], Any]:
        """What calls the code with these arguments, as often as is wished, as long as they live."""
        flat: list[Any] = []
        key = tuple([_taken_apart(value, flat) for value in arguments])
        call = self.made.get(key)
        if call is None:
            with _lock:
                call = self.made.get(key) or self._compiled(arguments)
                self.made[key] = call
        return functools.partial(call, flat)

    def _compiled(self, arguments: tuple[Any, ...]) -> Callable[[list[Any]], Any]:
        kinds = tuple(map(_kind_of, arguments))
        address, letters = kept.address_of(self.function, kinds)
        types = [_TYPES[text] for kind in kinds for text in in_c(kind)]
        if not letters.startswith("("):
            call = ctypes.CFUNCTYPE(_RETURNED[letters], *types)(address)
            if letters == "?":
                return lambda flat: bool(call(*flat))
            return lambda flat: call(*flat)
        call = ctypes.CFUNCTYPE(None, ctypes.c_void_p, *types)(address)
        # A bool is as long as the others.
        parts = struct.Struct("=" + letters[1:].replace("?", "?7x"))
        made = get_type_hints(self.function).get("return")
        build = getattr(made, "_make", tuple)

        def call_for_parts(flat: list[Any]) -> Any:
            out = ctypes.create_string_buffer(parts.size)
            call(ctypes.addressof(out), *flat)
            return build(parts.unpack(out.raw))

        return call_for_parts


def _told_address(array: np.ndarray[Any, Any]) -> int:
    """Where an array lies, as it says itself: slowly, for it describes its fields each time."""
    return array.ctypes.data


def _seen_address(array: np.ndarray[Any, Any]) -> int:
    """The same, read where an array object of CPython keeps it: after the head of all objects."""
    return ctypes.c_size_t.from_address(id(array) + object.__basicsize__).value


_PROBE = np.zeros(3)
_is_seen = sys.implementation.name == "cpython" and _seen_address(_PROBE) == _told_address(_PROBE)
_address_of = _seen_address if _is_seen else _told_address


def _taken_apart(value: Any, flat: list[Any]) -> Any:
    """Put what C takes for an argument into a list; what tells its kind."""
    kind = type(value)
    if kind is int or kind is float or kind is bool:
        flat.append(value)
        return kind
    if kind is np.ndarray:
        if not value.flags.c_contiguous:
            raise CompileError("an array with gaps has no machine code; hand in a copy")
        flat.append(_address_of(value))
        flat.append(len(value))
        return value.dtype, value.shape[1:]
    if kind is np.void:
        if value.base is None or value.base.dtype is not value.dtype or len(value.base) != 1:
            raise CompileError("a record is taken that is not all of its array; hand in the array")
        flat.append(_address_of(value.base))
        return value.dtype
    if isinstance(value, tuple):
        return kind, *[_taken_apart(part, flat) for part in value]
    if kind not in _NUMBERS:
        raise CompileError(f"{value!r} has no machine code; hand in numbers, records or arrays")
    flat.append(value.item())
    return kind


def _kind_of(value: Any) -> Kind:
    """The kind of an argument."""
    if isinstance(value, np.ndarray):
        of, stride = kind_of(value.dtype), value.dtype.itemsize
        for length in reversed(value.shape[1:]):
            of = ArrayKind(of, stride, length)
            stride *= length
        return ArrayKind(of, stride, UNKNOWN_LENGTH)
    if isinstance(value, np.void):
        return kind_of(value.dtype)
    if isinstance(value, tuple):
        return TupleKind(tuple(map(_kind_of, value)), getattr(value, "_fields", ()))
    return _NUMBERS[type(value)]
