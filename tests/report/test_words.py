import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.report.terminal.words import digits, listed, printable, span, whole


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (None, "-"),
        (0.0, "0"),
        (49.8316, "49.8"),
        (412.345, "412"),
        (1234.5, "1230"),
        (9.996, "10.0"),
        (999.7, "1000"),
        (0.05512, "0.0551"),
        (-31.25, "-31.2"),
        (0.00001, "<0.0001"),
    ],
)
def test_three_digits_are_enough(value: float | None, text: str) -> None:
    assert digits(value) == text


@given(st.floats(min_value=0.0001, max_value=1e12))
def test_digits_are_within_half_a_per_cent(value: float) -> None:
    assert float(digits(value)) == pytest.approx(value, rel=0.00501)
    assert "e" not in digits(value)


@pytest.mark.parametrize(
    ("seconds", "text"), [(2.0, "2 s"), (600.0, "10 min"), (24_000.0, "6.67 h"), (0.5, "0.5 s")]
)
def test_a_span_has_the_unit_that_fits(seconds: float, text: str) -> None:
    assert span(seconds) == text


def test_names_are_listed_as_in_a_sentence() -> None:
    assert listed(("a", "b", "c")) == "a, b and c"
    assert listed(("a",)) == "a"


def test_counts_are_whole() -> None:
    assert whole(1_200_000) == "1,200,000"


def test_a_title_cannot_move_the_cursor() -> None:
    assert printable("a\x1b[2Jb") == "a?[2Jb"
