"""Spreads as curves, thin enough for a page: which share of a spread lies beyond a time."""

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """How a spread in ms is shared out."""

    ms: tuple[float, ...]
    """Rising; the last is the highest value."""
    beyond: tuple[float, ...]
    """Share that is at least so long: falling, the last 0. Less than 1 at first if the rest is
    shorter than 1 us."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OfStart:
    """The same of one start alone."""

    start: int
    curve: Curve


@dataclass(frozen=True, slots=True, kw_only=True)
class Waits:
    """Waits of one stream, from read to read; None: none was measured."""

    every: Curve | None
    """All starts together, weighted."""
    worst: OfStart | None
    """The start with the longest; None if there is but one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Delays:
    """How late one stream or output is; None: nothing came."""

    latency: Curve | None
    age: Curve | None
    worst_age: OfStart | None
    """Age in the start in which its 99 % are highest; None if there is but one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Curves:
    """The curves of a run."""

    waits: Mapping[str, Waits]
    """By stream."""
    stream: Mapping[str, Delays]
    output: Mapping[str, Delays]
