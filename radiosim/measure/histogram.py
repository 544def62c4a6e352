"""Histograms of spans in constant memory: how they fill, pool and give quantiles."""

import math
from collections.abc import Sequence

import msgspec
import numpy as np
import numpy.typing as npt

from radiosim.engine.jit import JitBackend, Record
from radiosim.marks import rule
from radiosim.measure.summary import Distribution

BINS_PER_OCTAVE = 64
FIRST_NS = 1_000
OCTAVES = 33
BINS = 1 + BINS_PER_OCTAVE * OCTAVES
"""Below 1 µs, then 64 bins an octave up to 2.4 h, the last for what is longer too."""
COUNTS = dict.fromkeys(("weights", "ends", "sums"), BINS)

OCTAVE = FIRST_NS * 2.0 ** (np.arange(BINS_PER_OCTAVE + 1) / BINS_PER_OCTAVE)
"""Edges of the first octave's bins, ns; those of the others are these, doubled."""
EDGES = np.concatenate(
    ([0.0], (2.0 ** np.arange(OCTAVES)[:, None] * OCTAVE[:-1]).ravel(), [FIRST_NS * 2.0**OCTAVES])
)
"""Of the bins, ns: one more than bins."""
CELLS = 512
"""Cells of a mantissa, 0.5 to 1, so narrow that each holds one edge at most."""
_BEGIN = 0.5 + np.arange(CELLS) / (2 * CELLS)
_MANTISSA, _EXPONENT = math.frexp(FIRST_NS)
_IS_EARLIER = _BEGIN < _MANTISSA
"""Those that lie in the octave before, for the same exponent."""
_PLACE = (
    np.searchsorted(OCTAVE, np.where(_IS_EARLIER, 2, 1) * _BEGIN * 2.0**_EXPONENT, side="right") - 1
)
CELL_BIN = 1 + _PLACE - BINS_PER_OCTAVE * (_IS_EARLIER + _EXPONENT)
"""By cell: the bin that it begins in, for an exponent of 0."""
CELL_EDGE = OCTAVE[_PLACE + 1] * 2.0**-_EXPONENT / np.where(_IS_EARLIER, 2, 1)
"""By cell: the mantissa at which the next bin begins."""


class Spread:
    """Spans in ns, each of weight 1."""

    weights: list[float]
    """Weight of each bin."""
    n: int
    moment: float
    """Sum of the spans."""
    highest: float
    """The longest; of no meaning while n is 0."""


class Ramps:
    """Something that grows by 1 ns a ns, ramp by ramp, weighted by time.

    Bins hold the ends of the ramps: with their number and sum below an edge, how long the ramps
    were in it follows (`close_ramps`).
    """

    ends: list[float]
    """Beginnings less ends of ramps, by bin."""
    sums: list[float]
    """Sum of beginnings less sum of ends of ramps by bin, ns."""
    weights: list[float]
    """By bin: how long the ramps were in it, ns; of no meaning before `close_ramps`."""
    n: int
    """How many pieces of time."""
    weight: float
    """How long in all, ns."""
    moment: float
    """Area below the ramps, ns²."""
    highest: float
    """The highest end; of no meaning while n is 0."""


@rule
def bin_of(span_ns: float) -> int:
    """Which bin a span lies in: from its exponent, and from its mantissa by a table."""
    if span_ns < FIRST_NS:
        return 0
    mantissa, exponent = math.frexp(span_ns)
    cell = int((mantissa - 0.5) * (2 * CELLS))
    place = int(CELL_BIN[cell]) + BINS_PER_OCTAVE * exponent
    if mantissa >= CELL_EDGE[cell]:
        place += 1
    return min(place, BINS - 1)


@rule
def add_span(s: Spread, span_ns: float) -> None:
    """One more span."""
    span = float(span_ns)
    s.weights[bin_of(span)] += 1.0
    s.highest = max(s.highest, span) if s.n > 0 else span
    s.moment += span
    s.n += 1


@rule
def add_ramp(r: Ramps, first_ns: float, last_ns: float) -> None:
    """One more ramp, from a first value to a last."""
    # Squares of whole nanoseconds pass 63 bits after three seconds.
    first, last = float(first_ns), float(last_ns)
    begins, ends = bin_of(first), bin_of(last)
    r.ends[begins] += 1.0
    r.sums[begins] += first
    r.ends[ends] -= 1.0
    r.sums[ends] -= last
    r.highest = max(r.highest, last) if r.n > 0 else last
    r.weight += last - first
    r.moment += (last - first) * (last + first) / 2
    r.n += 1


@rule
def close_ramps(r: Ramps) -> None:
    """No more ramps come: how long they were in each bin."""
    running, inner = 0.0, 0.0
    for k in range(BINS - 1):
        running += r.ends[k]
        # A ramp is in a bin for the bin's whole width, but for what of it lies before its
        # beginning and after its end.
        outside = r.sums[k] - r.ends[k] * EDGES[k]
        inside = running * (EDGES[k + 1] - EDGES[k]) - outside
        inner += inside
        r.weights[k] = max(inside, 0.0)
    r.weights[BINS - 1] = max(r.weight - inner, 0.0)


Weights = npt.NDArray[np.float64]


class Histogram(msgspec.Struct, frozen=True, kw_only=True, eq=False):
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
        return msgspec.structs.replace(
            self,
            weights=self.weights * factor,
            weight=self.weight * factor,
            moment=self.moment * factor,
        )

    def quantile_ns(self, share: float) -> float:
        """Span below which a share (> 0) of the weight lies, within a bin; ValueError if empty."""
        if not self.weight > 0:
            raise ValueError("an empty histogram has no quantile")
        return self._quantile_ns(share, self.weights.cumsum())

    def _quantile_ns(self, share: float, running: Weights) -> float:
        """The quantile, from the running sum of the weights."""
        index = int(running.searchsorted(share * running[-1]))
        index = min(index, BINS - 1)
        low, high = float(EDGES[index]), float(EDGES[index + 1])
        below = float(running[index - 1]) if index else 0.0
        inside = (share * float(running[-1]) - below) / float(self.weights[index])
        return min(low + (high - low) * inside, self.highest_ns)

    def distribution(self, unit_ns: float) -> Distribution:
        """The spread in another unit, e.g. 1e6 for ms."""
        if not self.weight > 0:
            return Distribution(mean=None, median=None, p95=None, p99=None, max=None, n=0)
        running = self.weights.cumsum()
        return Distribution(
            mean=self.moment / self.weight / unit_ns,
            median=self._quantile_ns(0.50, running) / unit_ns,
            p95=self._quantile_ns(0.95, running) / unit_ns,
            p99=self._quantile_ns(0.99, running) / unit_ns,
            max=self.highest_ns / unit_ns,
            n=self.n,
        )


def added(spreads: Sequence[Histogram]) -> Histogram:
    """The sum of some, at least one, from first to last as `+` has it."""
    first, *others = spreads
    weights, weight, moment, highest_ns, n = (
        first.weights.copy(),
        first.weight,
        first.moment,
        first.highest_ns,
        first.n,
    )
    for other in others:
        weights += other.weights
        weight += other.weight
        moment += other.moment
        highest_ns = max(highest_ns, other.highest_ns)
        n += other.n
    return Histogram(weights=weights, weight=weight, moment=moment, highest_ns=highest_ns, n=n)


def empty() -> Histogram:
    """A histogram with nothing in it."""
    return _EMPTY


_EMPTY = Histogram(weights=np.zeros(BINS), weight=0.0, moment=0.0, highest_ns=-1.0, n=0)


def of_spread(s: Record, backend: JitBackend) -> Histogram:
    """What a Spread has come to; each span has weight 1."""
    n = int(backend.get(s, "n"))
    return Histogram(
        weights=np.array(backend.get(s, "weights"), np.float64),
        weight=float(n),
        moment=float(backend.get(s, "moment")),
        highest_ns=float(backend.get(s, "highest")) if n else -1.0,
        n=n,
    )


def of_ramps(r: Record, backend: JitBackend) -> Histogram:
    """What closed Ramps have come to, weighted by time (ns), as age is: its mean is exact."""
    n = int(backend.get(r, "n"))
    return Histogram(
        weights=np.array(backend.get(r, "weights"), np.float64),
        weight=float(backend.get(r, "weight")),
        moment=float(backend.get(r, "moment")),
        highest_ns=float(backend.get(r, "highest")) if n else -1.0,
        n=n,
    )
