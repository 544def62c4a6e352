"""What is too rare for the model is never told as a rate."""

import re

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from radiosim.assess.in_words import rare_text
from radiosim.measure.summary import RareFigures
from radiosim.study.rare import REACH_HOURS, beside_a_count, with_rare, within_reach
from radiosim.study.starts import simulate_starts
from tests.examples import examples
from tests.study.rare.test_estimate import one

rates = st.floats(-20, 4).map(lambda power: 10.0**power)
HOURS = re.compile(r"([\d,]+) h\b")


@st.composite
def estimates(draw: st.DrawFn) -> RareFigures:
    """Anything that splitting may find, trusted or not, with a rate or a limit alone."""
    low, rate, high = sorted(draw(st.tuples(rates, rates, rates)))
    has_rate = draw(st.booleans())
    return RareFigures(
        per_hour=rate if has_rate else None,
        per_hour_ci95=(low if has_rate and draw(st.booleans()) else 0.0, high),
        per_frame=rate / 1e6 if has_rate else None,
        trusted=draw(st.booleans()),
        why="the limit is for going unfed for 70 ms",
        levels_ms=(49.5, 70.0),
    )


def limit_of(per_hour: float) -> RareFigures:
    """Too rare to be followed, as far as was seen."""
    return RareFigures(
        per_hour=None, per_hour_ci95=(0.0, per_hour), per_frame=None, trusted=True, why=""
    )


@given(estimates())
@examples(500)
def test_nothing_is_told_beyond_the_reach_of_the_model(found: RareFigures) -> None:
    told = within_reach(found)
    hours = [float(text.replace(",", "")) for text in HOURS.findall(rare_text(told))]

    assert all(each <= REACH_HOURS for each in hours)
    assert told.per_hour is None or told.per_hour >= 1 / REACH_HOURS
    assert told.per_hour_ci95 is None or isinstance(told.per_hour_ci95, tuple)
    for end in told.per_hour_ci95 or ():
        assert end == 0 or end >= 1 / REACH_HOURS
    assert within_reach(told) == told


@given(estimates(), rates)
@example(limit_of(281.0), 9.0)
@examples(200)
def test_a_limit_that_a_count_beats_is_not_told(found: RareFigures, most_counted: float) -> None:
    told = beside_a_count(found, (0.0, most_counted))
    interval = found.per_hour_ci95
    assert isinstance(interval, tuple)
    if found.per_hour is not None or interval[1] < most_counted:
        assert told == found
    else:
        assert "less than once" not in rare_text(told)
        assert "tells no less" in rare_text(told)


@given(estimates())
@examples(200)
def test_what_the_model_reaches_stays_as_it_was_found(found: RareFigures) -> None:
    told = within_reach(found)
    interval = found.per_hour_ci95
    assert isinstance(interval, tuple)
    if (found.per_hour or interval[1]) >= 1 / REACH_HOURS:
        assert told.per_hour == found.per_hour
        assert told.why == found.why
        assert isinstance(told.per_hour_ci95, tuple)
        assert told.per_hour_ci95[1] == interval[1]
    elif found.trusted:
        assert told.per_hour is None
        # Never less than what was found for sure.
        assert isinstance(told.per_hour_ci95, tuple)
        assert told.per_hour_ci95[1] >= interval[1]
        assert "does not reach further" in rare_text(told)


@pytest.mark.slow
def test_a_run_tells_no_more_than_the_model_reaches() -> None:
    given = one(timeout_ms=250)
    few = simulate_starts(given, count=20, workers=1)
    found = with_rare(given, few, workers=1)
    failsafe = found.figures.stream["drive"].failsafe
    assert failsafe is not None
    assert isinstance(failsafe.rare, RareFigures)

    # Splitting itself goes on: once in 1,700 h (tests/reference/test_rare_runs.py).
    assert failsafe.rare.levels_ms[-1] > 200
    assert failsafe.rare.per_hour is None
    assert failsafe.rare.per_hour_ci95 == (0.0, 1 / REACH_HOURS)
    assert "loose contacts" in rare_text(failsafe.rare)
