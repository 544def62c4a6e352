"""Globals that functions ask for: what they are, and what tells them from others of their names."""

import builtins
import functools
import hashlib
import inspect
from typing import Any

import numpy as np


def mark_of(value: Any) -> str:
    """What tells a global apart from another of its name."""
    if isinstance(value, np.ndarray):
        return f"{value.dtype.str} {hashlib.sha256(value.tobytes()).hexdigest()[:20]}"
    if inspect.ismodule(value):
        return value.__name__
    if callable(value):
        named = inspect.unwrap(value)
        fields = " ".join(getattr(value, "_fields", ()))
        return f"{getattr(named, '__module__', '')}.{named.__qualname__} {fields}"
    return repr(value)


def looked_up(names_of: dict[str, Any], names: tuple[str, ...]) -> Any:
    """A global, or something of a module that is one; builtins count."""
    known = names_of if names[0] in names_of else vars(builtins)
    return functools.reduce(getattr, names[1:], known[names[0]])
