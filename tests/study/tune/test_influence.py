"""Shares of variance."""

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.study.tune.influence import first_order, influences, unknown_because

GRID = list(itertools.product((0.0, 1.0, 2.0), (0.0, 5.0)))


def test_what_only_one_setting_moves_is_its_first_order_share() -> None:
    one, other = influences(GRID, [a for a, _ in GRID])

    assert (one.first_order, one.total) == pytest.approx((1, 1))
    assert (other.first_order, other.total) == pytest.approx((0, 0))


def test_what_two_move_only_together_is_nobodys_first_order_share() -> None:
    corners = list(itertools.product((-1.0, 1.0), (-1.0, 1.0)))
    for influence in influences(corners, [a * b for a, b in corners]):
        assert influence.first_order == pytest.approx(0)
        assert influence.total == pytest.approx(1)


def test_where_points_are_no_whole_grid_no_total_is_told() -> None:
    (one, _) = influences(GRID[:-1], [a for a, _ in GRID[:-1]])

    assert one.total is None


@given(st.lists(st.floats(-1e3, 1e3), min_size=6, max_size=6))
def test_on_a_grid_first_order_is_no_more_than_total_and_all_first_orders_than_one(
    results: list[float],
) -> None:
    found = influences(GRID, results)

    for entry in found:
        assert entry.total is not None
        assert -1e-9 <= entry.first_order <= entry.total + 1e-9 <= 1 + 2e-9
    assert sum(entry.first_order for entry in found) <= 1 + 1e-9


def test_chance_alone_explains_nothing_to_speak_of() -> None:
    draw = np.random.default_rng(2)
    values, results = draw.uniform(0, 1, 200), draw.normal(0, 1, 200)

    # Sixteen groups of chance alone explain 15/199; that is taken off. sd about 0.03.
    assert first_order(values.tolist(), results.tolist()) < 0.12


def test_nothing_explains_what_does_not_vary() -> None:
    assert first_order([1, 2, 3], [5, 5, 5]) == 0
    assert first_order([1, 1, 1, 1], [1, 2, 3, 4]) == 0
    assert influences([], []) == ()
    assert all(
        influence.total == influence.first_order == 0 for influence in influences(GRID, [7.0] * 6)
    )
    # Their mean is not quite their value: rounding must not pass for variance.
    assert all(
        influence.total == influence.first_order == 0
        for influence in influences(GRID, [8.316372008700213e-106] * 6)
    )


@pytest.mark.parametrize(
    ("rows", "needed"),
    [
        ([(1.0,), (2.0,)], 3),
        (list(itertools.product((1.0, 2.0), (3.0, 4.0))), 6),
        ([(float(k),) for k in range(23)] + [(0.0,)], 0),
        ([(float(k),) for k in range(22)] + [(0.0,)], 24),
        ([(float(k), float(k), k % 2) for k in range(29)], 30),
        ([(float(k), float(k), k % 2) for k in range(30)], 0),
        (GRID, 0),
        ([], 24),
    ],
)
def test_of_too_few_points_nothing_is_told(rows: list[tuple[float, ...]], needed: int) -> None:
    why = unknown_because(rows, [float(k) for k in range(len(rows))])

    assert why == (f"too few points to tell: {len(rows)}, where it takes {needed}" * bool(needed))


def test_of_margins_that_are_all_alike_nothing_is_told() -> None:
    assert unknown_because(GRID, [0.5] * 6) == (
        "nothing to tell: the margin is the same everywhere"
    )
