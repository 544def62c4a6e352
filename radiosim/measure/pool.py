"""Starts pooled as they come: what figures over many of them need, without their spreads."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TypeVar

from radiosim.engine.stratification import shares_of, weight_of
from radiosim.measure.histogram import Histogram
from radiosim.measure.tally import (
    OutputTally,
    StartTally,
    StreamTally,
    pooled,
    with_spreads,
    without_spreads,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Range:
    """The starts of a run: `count` in a row."""

    first: int
    count: int

    def weight(self, tally: StartTally) -> float:
        """How much a start counts in averages over all of them (rule T6)."""
        shares = shares_of(self.first, self.count, len(tally.phases.densities))
        return weight_of(tally.phases, shares)


@dataclass(frozen=True, slots=True, kw_only=True)
class Extreme:
    """The lowest and highest value of one figure, each with its start, and how many had it."""

    low: float
    low_start: int
    high: float
    high_start: int
    n: int

    def __add__(self, later: "Extreme") -> "Extreme":
        """Of equal values that of the earlier start."""
        low_first, high_first = self.low <= later.low, self.high >= later.high
        return Extreme(
            low=self.low if low_first else later.low,
            low_start=self.low_start if low_first else later.low_start,
            high=self.high if high_first else later.high,
            high_start=self.high_start if high_first else later.high_start,
            n=self.n + later.n,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Apart:
    """The spread of the one start in which a figure is highest, as it came."""

    value: float
    start: int
    spread: Histogram

    def __add__(self, later: "Apart") -> "Apart":
        """Of equal values the earlier start."""
        return self if self.value >= later.value else later


@dataclass(frozen=True, slots=True, kw_only=True)
class Pool:
    """Some starts together.

    Counts are plain sums of what was simulated; spreads are weighted, and extremes stay extremes.
    """

    streams: Mapping[str, StreamTally]
    outputs: Mapping[str, OutputTally]
    rows: tuple[StartTally, ...]
    """The starts one by one, without their spreads."""
    weights: tuple[float, ...]
    """By row."""
    extremes: Mapping[str, Extreme]
    """By path of a figure."""
    apart: Mapping[str, Apart] = field(default_factory=dict)
    """By path of the figure that says which start is the worst; see `_apart`."""

    def __add__(self, later: "Pool") -> "Pool":
        return joined((self, later))


def pool_of(tally: StartTally, weight: float, figures: Mapping[str, float]) -> Pool:
    """One start as a pool; `figures`: its own, by path."""
    return Pool(
        streams={n: with_spreads(t, lambda h: h.scaled(weight)) for n, t in tally.streams.items()},
        outputs={n: with_spreads(t, lambda h: h.scaled(weight)) for n, t in tally.outputs.items()},
        rows=(without_spreads(tally),),
        weights=(weight,),
        extremes={
            path: Extreme(low=v, low_start=tally.start, high=v, high_start=tally.start, n=1)
            for path, v in figures.items()
        },
        apart=_apart(tally, figures),
    )


def _apart(tally: StartTally, figures: Mapping[str, float]) -> dict[str, Apart]:
    """Waits, and ages, with the figure that tells how bad they are."""
    spreads = {f"stream.{name}.gap_ms.max": of.gap for name, of in tally.streams.items()}
    spreads |= {f"stream.{name}.age_ms.p99": of.age for name, of in tally.streams.items()}
    spreads |= {f"output.{name}.age_ms.p99": of.age for name, of in tally.outputs.items()}
    return {
        path: Apart(value=figures[path], start=tally.start, spread=spread)
        for path, spread in spreads.items()
        if path in figures
    }


def joined(pools: Sequence[Pool]) -> Pool:
    """Pools in order of their starts as one; at least one."""
    return Pool(
        streams={name: pooled([pool.streams[name] for pool in pools]) for name in pools[0].streams},
        outputs={name: pooled([pool.outputs[name] for pool in pools]) for name in pools[0].outputs},
        rows=tuple(row for pool in pools for row in pool.rows),
        weights=tuple(weight for pool in pools for weight in pool.weights),
        extremes=_summed([pool.extremes for pool in pools]),
        apart=_summed([pool.apart for pool in pools]),
    )


T = TypeVar("T", Extreme, Apart)


def _summed(parts: Sequence[Mapping[str, T]]) -> dict[str, T]:
    """By path, the sum over those that have it."""
    total = dict(parts[0])
    for later in parts[1:]:
        for path, found in later.items():
            total[path] = total[path] + found if path in total else found
    return total
