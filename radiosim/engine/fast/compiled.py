"""Marks of the loop's functions: its parts, and the roots that Python calls."""

from collections.abc import Callable
from typing import Any, TypeVar

from radiosim.machine import compiled, kept

F = TypeVar("F", bound=Callable[..., Any])

kept.make_ready()


def part(function: F) -> F:
    """A part of the loop: it may change the world, as a rule may not."""
    return function


def loop(function: F) -> F:
    """What Python calls of the loop."""
    return compiled(function)
