import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.results.formats import (
    duration_text,
    fmt_count,
    fmt_exact,
    fmt_percent,
    fmt_range,
    fmt_sig3,
    fmt_value,
    list_text,
)


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (48.94, "48.9"),
        (412.4, "412"),
        (1234.4, "1230"),
        (9.996, "10.0"),
        (0.05514, "0.0551"),
        (0.0, "0"),
        (0.00001, "<0.0001"),
        (-0.00001, ">-0.0001"),
        (None, "-"),
        (math.inf, "inf"),
    ],
)
def test_numbers_have_three_significant_digits(value: float | None, text: str) -> None:
    assert fmt_sig3(value) == text


@given(st.floats(min_value=1e-4, max_value=999_999))
def test_three_digits_are_off_by_at_most_half_of_a_hundredth(value: float) -> None:
    assert abs(float(fmt_sig3(value)) - value) <= 0.00501 * value


@pytest.mark.parametrize(
    ("ms", "text"),
    [
        (0, "0 ms"),
        (0.00001, "<0.0001 ms"),
        (0.62, "0.62 ms"),
        (350, "350 ms"),
        (23.04, "23 ms"),
        (999.4, "999 ms"),
        (999.6, "1 s"),
        (1000, "1 s"),
        (2600, "2.6 s"),
        (119_000, "119 s"),
        (119_900, "2 min"),
        (155_000, "2 min 35 s"),
        (600_000, "10 min"),
        (3_599_900, "1 h"),
        (6_000_000, "1 h 40 min"),
        (360_000_000, "100 h"),
        (None, "-"),
        (math.inf, "for ever"),
        (-2600, "-2.6 s"),
    ],
)
def test_times_are_said_in_the_unit_that_people_use(ms: float | None, text: str) -> None:
    assert duration_text(ms) == text


def test_the_units_change_at_1000_ms_at_120_s_and_at_60_min() -> None:
    units = [duration_text(ms).split(" ")[1::2] for ms in (999, 1001, 119_000, 121_000, 3_660_000)]

    assert units == [["ms"], ["s"], ["s"], ["min", "s"], ["h", "min"]]


@given(st.floats(min_value=1e-3, max_value=1e12))
def test_a_time_is_never_off_by_more_than_one_per_cent(ms: float) -> None:
    factors = {"ms": 1, "s": 1e3, "min": 6e4, "h": 3.6e6}
    words = duration_text(ms).replace(",", "").split(" ")

    told = sum(
        float(number) * factors[unit] for number, unit in zip(words[::2], words[1::2], strict=True)
    )

    assert told == pytest.approx(ms, rel=0.01)


def test_values_are_shown_by_their_type() -> None:
    values = (None, True, False, 15000, 48.94, "drive")

    assert [fmt_value(value) for value in values] == ["-", "yes", "no", "15,000", "48.9", "drive"]


def test_other_numbers_have_a_form_of_their_own() -> None:
    assert fmt_count(1_230_000) == "1,230,000"
    assert fmt_exact(0.1 + 0.2) == "0.3"
    assert fmt_percent(0.9753) == "97.5 %"
    assert fmt_percent(None) == "-"


@pytest.mark.parametrize(
    ("ends", "text"),
    [((1.0, 2.5), "1.00 to 2.50 ms"), ((2.001, 2.002), "2.00 ms"), ((None, 1.0), "-")],
)
def test_a_range_has_both_ends_unless_they_look_alike(
    ends: tuple[float | None, float | None], text: str
) -> None:
    assert fmt_range(ends, "ms") == text


def test_the_ends_of_a_range_can_be_times() -> None:
    assert fmt_range((40.0, 5030.0), show=duration_text) == "40 ms to 5.03 s"


def test_names_stand_as_in_a_sentence() -> None:
    assert [list_text(names) for names in ((), ("a",), ("a", "b"), ("a", "b", "c"))] == [
        "",
        "a",
        "a and b",
        "a, b and c",
    ]
