"""Predicted ranges in words: never narrower than the numbers, never finer than the instrument."""

import math
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.report.predicted_range import bound_text, ends_text, range_text
from radiosim.study.bench.step import Prediction, exact, to_see

RESOLUTIONS = (1.0, 0.1, 0.01)


def predicted(low: float | None, high: float, resolution: float = 0.1) -> Prediction:
    return exact("it", low, high, "ms", resolution)


def read(text: str) -> tuple[float, float]:
    low, _, high = text.partition(" to ")
    return float(low), float(high or low)


@given(
    st.floats(0, 1e7, allow_subnormal=False),
    st.floats(0, 1e5, allow_subnormal=False),
    st.sampled_from(RESOLUTIONS),
)
def test_a_printed_range_is_never_narrower(low: float, width: float, resolution: float) -> None:
    high = low + width
    printed = read(ends_text(predicted(low, high, resolution)))

    # Twelve digits are kept of a float.
    assert printed[0] <= low * (1 + 1e-11)
    assert printed[1] >= high * (1 - 1e-11)


@given(
    st.floats(0.1, 1e7, allow_subnormal=False),
    st.floats(0, 1e5, allow_subnormal=False),
    st.sampled_from(RESOLUTIONS),
)
def test_a_printed_range_is_little_wider(low: float, width: float, resolution: float) -> None:
    high = low + width
    printed = read(ends_text(predicted(low, high, resolution)))
    step = max(resolution, (high - low) / 20)

    assert low - printed[0] <= step * (1 + 1e-9) + 1e-9
    assert printed[1] - high <= step * (1 + 1e-9) + 1e-9


@given(
    st.floats(0, 1e6, allow_subnormal=False),
    st.floats(0, 1e4, allow_subnormal=False),
    st.sampled_from(RESOLUTIONS),
)
def test_no_end_is_finer_than_the_instrument(low: float, width: float, resolution: float) -> None:
    for end in ends_text(predicted(low, low + width, resolution)).split(" to "):
        assert Decimal(end) % Decimal(str(resolution)) == 0


@given(st.floats(0, 1e6, allow_subnormal=False))
def test_a_printed_bound_is_never_below_the_bound(high: float) -> None:
    assert float(bound_text(predicted(None, high))) >= high * (1 - 1e-11)


@pytest.mark.parametrize(
    ("low", "high", "resolution", "text"),
    [
        (15.999, 16.001, 0.1, "15.9 to 16.1 ms"),
        (19.9988, 20.0012, 0.01, "19.99 to 20.01 ms"),
        (236.4, 267.6, 0.1, "236 to 268 ms"),
        (0, 0, 0.1, "0 ms"),
        (0, 4376, 1.0, "0 to 4380 ms"),
        (22.04, 42563.0, 0.1, "22.0 to 42600 ms"),
        (400.0, 400.0, 0.1, "400.0 ms"),
        (None, 280.25, 0.1, "at most 280.3 ms"),
        (15.9, math.inf, 0.1, "at least 15.9 ms"),
    ],
)
def test_ranges_as_a_builder_reads_them(
    low: float | None, high: float, resolution: float, text: str
) -> None:
    assert range_text(predicted(low, high, resolution)) == text


def test_what_is_to_be_seen_is_said_as_it_is() -> None:
    assert range_text(to_see("pan", "reaction", "pan goes on", 39)) == "pan goes on"
