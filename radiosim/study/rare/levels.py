"""Levels between a feed and the timeout, and who goes on from one."""

from collections.abc import Sequence
from typing import TypeVar

T = TypeVar("T")
FOREVER_NS = 1 << 62
"""For how long a stream goes unfed that is not fed before the timeout."""
SHARES = (0.05, 0.4)
"""Share that should get from a level to the next: about e⁻², where splitting costs least."""
WIDER = 4
"""So many times wider a hole with a smaller share must be to be preferred."""
NEARLY_ALL = 0.9
"""Share that may get to the next level where there is none that fewer pass."""


def first_level_ns(gaps_ns: Sequence[int], timeout_ns: int, wanted: int, least: int) -> int:
    """A level that about `wanted` of some gaps pass, or fewer where they come in lumps."""
    ordered = sorted(min(gap, timeout_ns) for gap in gaps_ns)
    most = min(wanted, len(ordered) - 1)
    longest_gap_ns, level_ns = _chosen_gap(ordered, max(least, wanted // 40), wanted // 10, most)
    if longest_gap_ns == 0:
        _, level_ns = _widest_gap(ordered, min(least, most), most)
    return level_ns


def next_level_ns(unfed_ns: Sequence[int], timeout_ns: int, least: int) -> int | None:
    """A level that some lengths pass, a share in SHARES where that can be; FOREVER_NS: all but it.

    None where fewer than `least` outlast a lump of others.
    """
    ordered = sorted(min(unfed, timeout_ns) for unfed in unfed_ns)
    fewest, most = (round(share * len(ordered)) for share in SHARES)
    if sum(unfed == timeout_ns for unfed in ordered) >= fewest:
        return FOREVER_NS
    longest_gap_ns, level_ns = _chosen_gap(ordered, least, fewest, most)
    if longest_gap_ns == 0:
        longest_gap_ns, level_ns = _widest_gap(ordered, most, round(NEARLY_ALL * len(ordered)))
    return level_ns if longest_gap_ns > 0 else None


def _chosen_gap(ordered: Sequence[int], least: int, fewest: int, most: int) -> tuple[int, int]:
    """The widest hole that `fewest` to `most` pass, unless there is a much wider one above."""
    least = min(least, most)
    longest_gap_ns, level_ns = _widest_gap(ordered, min(max(least, fewest), most), most)
    widest_ns, other_ns = _widest_gap(ordered, least, most)
    return (
        (widest_ns, other_ns) if widest_ns > WIDER * longest_gap_ns else (longest_gap_ns, level_ns)
    )


def _widest_gap(ordered: Sequence[int], fewest: int, most: int) -> tuple[int, int]:
    """The widest span without a length that so many pass, and the level in its middle.

    Lengths come in lumps, a sampling period or a retry apart, and clocks and jitter shift each a
    little: between lumps a level means the same in every start.
    """
    ends = range(len(ordered) - most, len(ordered) - fewest + 1)
    end = max(ends, key=lambda k: ordered[k] - ordered[k - 1])
    low, high = ordered[end - 1], ordered[end]
    return high - low, (low + high + 1) // 2


def drawn_evenly(items: Sequence[T], weights: Sequence[float], count: int, at: float) -> list[T]:
    """`count` of some items, each as often as its weight says, up to one more or less.

    `at`: 0 to 1, where in the first step to begin; right on average if that is uniform
    (systematic resampling).
    """
    step = sum(weights) / count
    drawn, reached, wanted = list[T](), 0.0, at * step
    for item, weight in zip(items, weights, strict=True):
        reached += weight
        while wanted < reached and len(drawn) < count:
            drawn.append(item)
            wanted += step
    # The last can be lost to rounding.
    drawn.extend([items[-1]] * (count - len(drawn)))
    return drawn
