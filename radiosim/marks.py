"""Marks the functions that a compiled engine may call; they stay plain Python."""

from collections.abc import Callable
from typing import Any, TypeVar

F = TypeVar("F", bound=Callable[..., Any])

RULES: list[Callable[..., Any]] = []
"""Every marked function, in the order of import: callees before callers."""


def rule(function: F) -> F:
    """Mark a pure function of numbers as a rule of the simulation."""
    RULES.append(function)
    return function
