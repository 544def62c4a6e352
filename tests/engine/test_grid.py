"""Instants on a grid that a clock with an error keeps."""

from fractions import Fraction
from math import floor

from hypothesis import given
from hypothesis import strategies as st

from radiosim.engine.rules.grid import BILLION, grid_point, point_after, points_until, scaled

errors_ppb = st.integers(-100_000_000, 100_000_000)
periods_ns = st.integers(1_000, 2_000_000_000)


@given(st.integers(0, 10**15), errors_ppb)
def test_a_span_is_scaled_to_the_nearest_nanosecond(nominal_ns: int, ppb: int) -> None:
    exact = nominal_ns * (1 + Fraction(ppb, BILLION))

    assert scaled(nominal_ns, ppb) == floor(exact + Fraction(1, 2))


def test_no_product_passes_63_bits_in_a_day() -> None:
    day_ns = 86_400 * BILLION

    assert scaled(day_ns, 60_000) == day_ns + 5_184_000_000
    assert (day_ns // BILLION) * 100_000_000 < 2**63
    assert (BILLION - 1) * 100_000_000 + BILLION // 2 < 2**63


def test_an_exact_clock_changes_nothing() -> None:
    assert scaled(123_456_789, 0) == 123_456_789


@given(st.integers(0, 10**6), periods_ns, errors_ppb)
def test_a_grid_is_rounded_once_not_step_by_step(k: int, every_ns: int, ppb: int) -> None:
    exact = k * every_ns * (1 + Fraction(ppb, BILLION))

    assert abs(grid_point(k, every_ns, ppb) - exact) <= Fraction(1, 2)


@given(st.integers(-5_000, 100_000), st.integers(1_000, 20_000), errors_ppb)
def test_points_are_counted_with_both_ends(span_ns: int, every_ns: int, ppb: int) -> None:
    points = [grid_point(k, every_ns, ppb) for k in range(150)]

    assert points_until(span_ns, every_ns, ppb) == sum(point <= span_ns for point in points)


@given(st.integers(0, 200_000), periods_ns, errors_ppb)
def test_a_point_counts_from_its_own_instant_on(k: int, every_ns: int, ppb: int) -> None:
    at_ns = grid_point(k, every_ns, ppb)

    assert points_until(at_ns, every_ns, ppb) == k + 1
    assert points_until(at_ns - 1, every_ns, ppb) == k


@given(st.integers(-5_000, 10**12), periods_ns, errors_ppb)
def test_the_point_after_is_the_first_later_one(span_ns: int, every_ns: int, ppb: int) -> None:
    after_ns = point_after(span_ns, every_ns, ppb)

    assert after_ns > span_ns
    assert points_until(after_ns, every_ns, ppb) == points_until(span_ns, every_ns, ppb) + 1
