"""Spreads in constant memory: logarithmic bins, with count, sum and maximum kept exactly."""

import dataclasses
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from radiosim.measure.summary import Distribution

Spans = npt.NDArray[np.int64]
Weights = npt.NDArray[np.float64]

BINS_PER_OCTAVE = 64
"""A bin is 1.1 % wide: a quantile, which lies in the right bin, is no further off."""
FIRST_NS = 1_000
OCTAVES = 33
BINS = 1 + BINS_PER_OCTAVE * OCTAVES
_EDGES = np.concatenate(
    ([0.0], FIRST_NS * 2.0 ** (np.arange(BINS_PER_OCTAVE * OCTAVES + 1) / BINS_PER_OCTAVE))
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Histogram:
    """Weights of spans in ns, bin by bin: below 1 µs, then 64 bins an octave up to 2.4 h."""

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
        running = np.cumsum(self.weights)
        index = int(np.searchsorted(running, share * running[-1], side="left"))
        index = min(index, BINS - 1)
        low, high = float(_EDGES[index]), float(_EDGES[index + 1])
        below = float(running[index - 1]) if index else 0.0
        inside = (share * float(running[-1]) - below) / float(self.weights[index])
        return min(low + (high - low) * inside, self.highest_ns)

    def distribution(self, unit_ns: float) -> Distribution:
        """The spread in another unit, e.g. 1e6 for ms."""
        if not self.weight > 0:
            return Distribution(mean=None, median=None, p95=None, p99=None, max=None, n=0)
        return Distribution(
            mean=self.moment / self.weight / unit_ns,
            median=self.quantile_ns(0.50) / unit_ns,
            p95=self.quantile_ns(0.95) / unit_ns,
            p99=self.quantile_ns(0.99) / unit_ns,
            max=self.highest_ns / unit_ns,
            n=self.n,
        )


def empty() -> Histogram:
    """A histogram with nothing in it."""
    return _EMPTY


_EMPTY = Histogram(weights=np.zeros(BINS), weight=0.0, moment=0.0, highest_ns=-1.0, n=0)


def histogram_of(spans: Spans | Weights) -> Histogram:
    """A histogram of spans in ns (one dimension), each of weight 1."""
    bins = np.searchsorted(_EDGES, spans, side="right") - 1
    return Histogram(
        weights=np.bincount(np.clip(bins, 0, BINS - 1), minlength=BINS).astype(np.float64),
        weight=float(len(spans)),
        moment=float(spans.sum()),
        highest_ns=float(spans.max()) if len(spans) else -1.0,
        n=len(spans),
    )


def histogram_of_ramps(first_ns: Spans, last_ns: Spans) -> Histogram:
    """A histogram of something that grows by 1 ns a ns from `first` to `last`, ramp by ramp.

    Weighted by time (ns), as age is: its mean is exact.
    """
    first, last = first_ns.astype(np.float64), last_ns.astype(np.float64)
    weight = float((last - first).sum())
    until = _time_below(np.sort(first), _EDGES) - _time_below(np.sort(last), _EDGES)
    inner = np.diff(until)
    inner[-1] += weight - float(until[-1])
    return Histogram(
        weights=np.maximum(inner, 0.0),
        weight=weight,
        moment=float(((last - first) * (last + first)).sum() / 2),
        highest_ns=float(last.max()) if len(last) else -1.0,
        n=len(first),
    )


def _time_below(ordered: Weights, edges: Weights) -> Weights:
    """For each edge, the sum of how far it is past each of the ordered values."""
    counts = np.searchsorted(ordered, edges, side="right")
    sums = np.concatenate(([0.0], np.cumsum(ordered)))
    passed: Weights = edges * counts - sums[counts]
    return passed
