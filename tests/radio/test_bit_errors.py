"""Bit and frame errors: laws; worked figures stand in tests/reference."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.radio.bit_errors import (
    BIT_ERRORS_AT_SENSITIVITY,
    SNR_AT_SENSITIVITY,
    bit_error_rate,
    frame_error_rate,
    hazard_per_bit,
    noise_mw,
)
from radiosim.units import dbm_to_mw

ratios = st.floats(0, 200)
lengths = st.integers(1, 3000)


@given(ratios, ratios)
def test_a_better_ratio_never_has_more_errors(one: float, other: float) -> None:
    worse, better = sorted((one, other))

    assert bit_error_rate(better) <= bit_error_rate(worse) <= 0.5
    assert hazard_per_bit(better) <= hazard_per_bit(worse)


@given(st.floats(0, 1), lengths, lengths)
def test_a_shorter_frame_never_fails_more_often(rate: float, one: int, other: int) -> None:
    shorter, longer = sorted((one, other))

    assert 0 <= frame_error_rate(rate, shorter) <= frame_error_rate(rate, longer) <= 1


@given(ratios, lengths)
def test_hazards_of_bits_add_up_to_the_frame_error(snr: float, bits: int) -> None:
    by_hazard = -math.expm1(-bits * hazard_per_bit(snr))

    assert frame_error_rate(bit_error_rate(snr), bits) == pytest.approx(by_hazard, rel=1e-9)


def test_at_sensitivity_one_bit_in_a_thousand_is_wrong() -> None:
    snr = dbm_to_mw(-85.0) / noise_mw(-85.0)

    assert snr == pytest.approx(SNR_AT_SENSITIVITY)
    assert bit_error_rate(snr) == pytest.approx(BIT_ERRORS_AT_SENSITIVITY)
