"""Curves of pooled spreads: as few points as show them, however long was simulated."""

import math

import numpy as np
import numpy.typing as npt

from radiosim.measure.histogram import EDGES, Histogram
from radiosim.measure.summary import Curve, Curves, Delays, OfStart, Waits
from radiosim.measure.tally import Apart, Pool
from radiosim.units import NS_PER_MS

MOST_POINTS = 200
"""Largest number of points of a curve."""
LOG_TOLERANCE, TOLERANCE = 0.004, 0.001
"""How far a thinned curve may be off: in powers of ten of the share, or in the share itself."""
_NOTHING = 1e-12
"""Share of a bin below which it is what rounding left over."""

Points = npt.NDArray[np.float64]


def curves_of(pool: Pool) -> Curves:
    """Curves over all starts of a run."""
    several = len(pool.rows) > 1

    def apart(path: str, *, is_log: bool) -> OfStart | None:
        found = pool.apart.get(path) if several else None
        return None if found is None else _of_start(found, is_log=is_log)

    def delays(path: str, latency: Histogram, age: Histogram) -> Delays:
        return Delays(
            latency=curve_of(latency),
            age=curve_of(age),
            worst_age=apart(f"{path}.age_ms.p99", is_log=False),
        )

    return Curves(
        waits={
            name: Waits(
                every=curve_of(tally.gap, is_log=True),
                worst=apart(f"stream.{name}.gap_ms.max", is_log=True),
            )
            for name, tally in pool.streams.items()
        },
        stream={n: delays(f"stream.{n}", t.latency, t.age) for n, t in pool.streams.items()},
        output={n: delays(f"output.{n}", t.latency, t.age) for n, t in pool.outputs.items()},
    )


def _of_start(found: Apart, *, is_log: bool) -> OfStart | None:
    curve = curve_of(found.spread, is_log=is_log)
    return None if curve is None else OfStart(start=found.start, curve=curve)


def curve_of(spread: Histogram, *, is_log: bool = False) -> Curve | None:
    """A spread as a curve of at most MOST_POINTS points over the logarithm of time.

    It is exact at the edges of bins that it keeps, and no further than a tolerance off at the
    others: a small part of the share itself if it `is_log`, for a logarithmic axis of shares.
    None if no weight lies above 1 us.
    """
    weights = np.where(spread.weights > _NOTHING * spread.weight, spread.weights, 0.0)
    weights[EDGES[:-1] > spread.highest_ns] = 0.0
    bins = np.flatnonzero(weights[1:]) + 1
    if not len(bins):
        return None
    # From the top, so that the rarest keep all their digits.
    beyond = np.append(np.cumsum(weights[::-1])[::-1], 0.0) / weights.sum()
    edges = np.unique(np.concatenate((bins, bins + 1)))
    ns = np.minimum(EDGES[edges], spread.highest_ns)
    ns[-1] = spread.highest_ns
    share = beyond[edges]
    kept = _thinned(np.log10(ns), np.log10(share[:-1]) if is_log else share[:-1], is_log=is_log)
    return Curve(
        ms=tuple(_short(value / NS_PER_MS) for value in ns[kept].tolist()),
        beyond=tuple(_short(value) for value in share[kept].tolist()),
    )


def _short(value: float) -> float:
    """Digits enough for a picture."""
    return float(f"{value:.5g}")


def _thinned(x: Points, y: Points, *, is_log: bool) -> list[int]:
    """Numbers of the points to keep: of all but the last those that are needed, and the last."""
    tolerance = LOG_TOLERANCE if is_log else TOLERANCE
    while True:
        kept = kept_points(x[:-1], y, tolerance)
        if len(kept) < MOST_POINTS:
            return [*kept, len(x) - 1]
        tolerance *= 1.5


def kept_points(x: Points, y: Points, tolerance: float) -> list[int]:
    """Numbers of points whose straight connections pass every other within a tolerance in y.

    `x` rises. From a point kept, a door of slopes that pass all points so far narrows until one
    lies outside; the one before it is then kept. The first and the last always are.
    """
    first, kept = 0, [0]
    low, high = -math.inf, math.inf
    points = list(zip(x.tolist(), y.tolist(), strict=True))
    for k, (at, value) in enumerate(points[1:], start=1):
        run, rise = at - points[first][0], value - points[first][1]
        if not low <= rise / run <= high:
            first = k - 1
            kept.append(first)
            run, rise = at - points[first][0], value - points[first][1]
            low, high = -math.inf, math.inf
        low, high = max(low, (rise - tolerance) / run), min(high, (rise + tolerance) / run)
    if len(points) > 1:
        kept.append(len(points) - 1)
    return kept
