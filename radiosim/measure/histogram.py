"""Histograms of spans: how they pool, and their quantiles. How they fill: `fold/spread.py`."""

import dataclasses
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from radiosim.engine.machine import Machine, Record
from radiosim.measure.fold.spread import BINS, EDGES
from radiosim.measure.summary import Distribution

Weights = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Histogram:
    """Weights of spans in ns, bin by bin: below 1 µs, then 64 bins an octave up to 2.4 h.

    A bin is 1.1 % wide: a quantile, which lies in the right bin, is no further off.
    """

    weights: Weights
    weight: float
    """Sum of the weights."""
    moment: float
    """Sum of weight · span."""
    highest_ns: float
    """−1 while nothing is in it."""
    n: int
    """How many spans, or pieces of time, went in."""

    def __add__(self, other: "Histogram") -> "Histogram":
        return Histogram(
            weights=self.weights + other.weights,
            weight=self.weight + other.weight,
            moment=self.moment + other.moment,
            highest_ns=max(self.highest_ns, other.highest_ns),
            n=self.n + other.n,
        )

    def scaled(self, factor: float) -> "Histogram":
        """The same spread counted `factor` times; how many went in stays."""
        if factor == 1:
            return self
        return dataclasses.replace(
            self,
            weights=self.weights * factor,
            weight=self.weight * factor,
            moment=self.moment * factor,
        )

    def quantile_ns(self, share: float) -> float:
        """Span below which a share (> 0) of the weight lies, within a bin; ValueError if empty."""
        if not self.weight > 0:
            raise ValueError("an empty histogram has no quantile")
        return self._quantile_ns(share, np.cumsum(self.weights))

    def _quantile_ns(self, share: float, running: Weights) -> float:
        """The same, from the running sum of the weights."""
        index = int(np.searchsorted(running, share * running[-1], side="left"))
        index = min(index, BINS - 1)
        low, high = float(EDGES[index]), float(EDGES[index + 1])
        below = float(running[index - 1]) if index else 0.0
        inside = (share * float(running[-1]) - below) / float(self.weights[index])
        return min(low + (high - low) * inside, self.highest_ns)

    def distribution(self, unit_ns: float) -> Distribution:
        """The spread in another unit, e.g. 1e6 for ms."""
        if not self.weight > 0:
            return Distribution(mean=None, median=None, p95=None, p99=None, max=None, n=0)
        running = np.cumsum(self.weights)
        return Distribution(
            mean=self.moment / self.weight / unit_ns,
            median=self._quantile_ns(0.50, running) / unit_ns,
            p95=self._quantile_ns(0.95, running) / unit_ns,
            p99=self._quantile_ns(0.99, running) / unit_ns,
            max=self.highest_ns / unit_ns,
            n=self.n,
        )


def empty() -> Histogram:
    """A histogram with nothing in it."""
    return _EMPTY


_EMPTY = Histogram(weights=np.zeros(BINS), weight=0.0, moment=0.0, highest_ns=-1.0, n=0)


def of_spread(s: Record, machine: Machine) -> Histogram:
    """What a Spread has come to; each span has weight 1."""
    n = int(machine.get(s, "n"))
    return Histogram(
        weights=np.array(machine.get(s, "weights"), np.float64),
        weight=float(n),
        moment=float(machine.get(s, "moment")),
        highest_ns=float(machine.get(s, "highest")) if n else -1.0,
        n=n,
    )


def of_ramps(r: Record, machine: Machine) -> Histogram:
    """What closed Ramps have come to, weighted by time (ns), as age is: its mean is exact."""
    n = int(machine.get(r, "n"))
    return Histogram(
        weights=np.array(machine.get(r, "weights"), np.float64),
        weight=float(machine.get(r, "weight")),
        moment=float(machine.get(r, "moment")),
        highest_ns=float(machine.get(r, "highest")) if n else -1.0,
        n=n,
    )
