"""Levels, and who goes on from one."""

from collections import Counter
from types import SimpleNamespace
from typing import Any, cast

import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.study.rare._watch import (
    FOREVER_NS,
    SHARES,
    Moment,
    Watch,
    drawn_evenly,
    first_level_ns,
    next_level_ns,
)

TIMEOUT_NS = 1_000
weights = st.lists(st.floats(0.01, 10.0), min_size=1, max_size=30)


@given(weights, st.integers(1, 200), st.floats(0.0, 0.999))
def test_each_is_drawn_as_often_as_its_weight_says(
    weights: list[float], count: int, at: float
) -> None:
    drawn = Counter(drawn_evenly(range(len(weights)), weights, count, at))

    assert drawn.total() == count
    for item, weight in enumerate(weights):
        wanted = count * weight / sum(weights)
        assert wanted - 1.0001 <= drawn[item] <= wanted + 1.0001


def test_over_all_places_to_begin_the_draw_is_exact() -> None:
    places = [k / 1_000 + 0.0005 for k in range(1_000)]
    drawn = Counter(item for at in places for item in drawn_evenly("abc", [1.0, 2.0, 4.5], 5, at))

    for item, weight in zip("abc", [1.0, 2.0, 4.5], strict=True):
        assert abs(drawn[item] / 1_000 - 5 * weight / 7.5) < 0.01


def test_the_next_level_lies_between_lumps() -> None:
    unfed = [20 + n % 3 for n in range(320)] + [40 + n % 3 for n in range(72)] + [60] * 8

    assert next_level_ns(unfed, TIMEOUT_NS, 5) == 31


def test_a_lump_that_few_outlast_is_left_above_all_the_same() -> None:
    assert next_level_ns([20] * 390 + [40] * 10, TIMEOUT_NS, 5) == 30


def test_where_hardly_one_outlasts_a_lump_there_is_no_level() -> None:
    assert next_level_ns([20] * 396 + [40] * 4, TIMEOUT_NS, 5) is None


def test_where_enough_last_to_the_timeout_no_level_is_needed() -> None:
    assert next_level_ns([20] * 300 + [FOREVER_NS] * 100, TIMEOUT_NS, 5) == FOREVER_NS


@given(st.lists(st.integers(1, 900), min_size=50, max_size=400))
def test_a_level_is_passed_by_some_and_not_by_all(unfed: list[int]) -> None:
    level_ns = next_level_ns(unfed, TIMEOUT_NS, 5)

    if level_ns is not None:
        passing = sum(ns >= level_ns for ns in unfed)
        assert 5 <= passing < len(unfed)


def test_a_spread_without_lumps_is_split_by_share() -> None:
    level_ns = next_level_ns(list(range(100, 900, 2)), TIMEOUT_NS, 5)

    assert level_ns is not None
    assert SHARES[0] <= sum(ns >= level_ns for ns in range(100, 900, 2)) / 400 <= SHARES[1]


def test_the_first_level_is_passed_by_about_as_many_as_wanted() -> None:
    gaps = [20] * 10_000 + [40] * 400 + [60] * 10

    assert first_level_ns(gaps, TIMEOUT_NS, 800, 5) == 30


def test_gaps_beyond_the_timeout_do_not_draw_the_first_level_there() -> None:
    gaps = [20] * 10_000 + [40] * 400 + [900_000] * 3

    assert first_level_ns(gaps, 100, 800, 5) == 30


@pytest.mark.parametrize(("fault_ns", "trips"), [(None, True), (115, True), (105, False)])
def test_a_trip_that_a_fault_explains_is_none_of_chance(fault_ns: int | None, trips: bool) -> None:
    """Unfed since 0, a timer runs out at 100; the pass that ends at 110 finds it at 108."""

    def is_blocked(fed_ns: int, at_ns: int) -> bool:
        return fault_ns is not None and at_ns >= fault_ns

    watch = SimpleNamespace(
        timeout_ns=100,
        until_ns=1_000,
        plan=SimpleNamespace(rx=SimpleNamespace(pass_ns=10)),
        is_blocked=is_blocked,
        go_back=lambda moment, branch: None,
        look=lambda at_ns: SimpleNamespace(entered_fed_ns=0, entered_ns=108, fed_ns=0),
    )
    none: Any = None
    moment = Moment(
        watch=cast(Watch, watch), run=none, timer=none, fed_ns=0, at_ns=50, origin=1, weight=1.0
    )

    assert moment.trips(1) is trips
