"""How far a figure is from its limit."""

from hypothesis import given
from hypothesis import strategies as st

from radiosim.measure.summary import RequirementFigures
from radiosim.study.tune.margin import margin_of


def margin(
    measured: float | None,
    *,
    at_least: float | None = None,
    at_most: float | None = None,
    figure: str = "stream.drive.gap_ms.max",
) -> float:
    return margin_of(
        RequirementFigures(
            figure=figure, at_least=at_least, at_most=at_most, measured=measured, ok=None, why=""
        )
    )


@given(st.floats(0, 1e6), st.floats(1e-3, 1e6))
def test_it_is_not_below_zero_exactly_if_the_limit_holds(measured: float, limit: float) -> None:
    assert (margin(measured, at_most=limit) >= 0) == (measured <= limit)
    assert (margin(measured, at_least=limit) >= 0) == (measured >= limit)


@given(st.floats(0, 1), st.floats(0.01, 0.99))
def test_of_a_share_it_is_what_is_missing_that_counts(measured: float, limit: float) -> None:
    found = margin(measured, at_least=limit, figure="stream.drive.delivery_ratio")

    assert (found >= 0) == (1 - measured <= 1 - limit)
    assert -1 <= found <= 1


def test_half_of_what_may_be_missing_is_half_a_margin() -> None:
    found = margin(0.75, at_least=0.5, figure="stream.drive.delivery_ratio")

    assert found == 0.5
    assert margin(100, at_most=200) == 0.5
    assert margin(30, at_least=20) == 0.5


def test_a_limit_of_zero_is_held_in_full_or_missed() -> None:
    assert margin(0, at_most=0) == 1
    assert margin(3, at_most=0) == -1
    assert margin(2, at_least=0) == 1
    assert margin(-2, at_least=0) == -1


def test_no_margin_is_lower_than_missing_by_the_limit_itself() -> None:
    assert margin(1e6, at_most=200) == -1
    assert margin(None, at_most=200) == -1


def test_a_fault_that_was_noticed_is_no_reason_to_notice_more() -> None:
    figure = "stream.drive.failsafe.trips_on_fault"

    assert margin(7, at_least=1, figure=figure) == margin(1, at_least=1, figure=figure) == 1
    assert margin(0, at_least=1, figure=figure) == -1
