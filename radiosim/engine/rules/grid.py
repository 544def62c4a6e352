"""Instants on a grid that a clock with an error keeps (rules T1 and T5)."""

from radiosim.marks import rule

BILLION = 1_000_000_000


@rule
def scaled(nominal_ns: int, ppb: int) -> int:
    """A span as a clock with an error of `ppb` parts in 10⁹ makes it, nearest ns (rule T1).

    Split so that no product passes 63 bits.
    """
    whole = nominal_ns // BILLION
    rest = nominal_ns - whole * BILLION
    return nominal_ns + whole * ppb + (rest * ppb + BILLION // 2) // BILLION


@rule
def grid_point(k: int, every_ns: int, ppb: int) -> int:
    """The k-th point of a grid, ns from its start: rounded once, not step by step."""
    return scaled(k * every_ns, ppb)


@rule
def points_until(span_ns: int, every_ns: int, ppb: int) -> int:
    """How many points of a grid lie in 0…`span_ns`, both ends included; 0 before it starts."""
    if span_ns < 0:
        return 0
    k = span_ns // every_ns
    k -= k * ppb // (BILLION + ppb)
    while grid_point(k, every_ns, ppb) > span_ns:
        k -= 1
    while grid_point(k + 1, every_ns, ppb) <= span_ns:
        k += 1
    return k + 1


@rule
def point_after(span_ns: int, every_ns: int, ppb: int) -> int:
    """The first point of a grid later than `span_ns`, ns from its start."""
    return grid_point(points_until(span_ns, every_ns, ppb), every_ns, ppb)
