"""How long things take on the air and on the bus."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.radio.profiles import PROFILES
from radiosim.radio.time_on_air import (
    bits_ns,
    frame_bits,
    shortest_retry_delay_ns,
    upload_ns,
)


# Worked from PS 7.3 (status S): preamble 1, address 5, control 9 bits, CRC 2.
@pytest.mark.parametrize(("payload", "bits"), [(0, 73), (8, 137), (16, 201), (32, 329)])
def test_bits_of_a_frame(payload: int, bits: int) -> None:
    assert frame_bits(payload, address_bytes=5, crc_bytes=2) == bits


def test_the_plain_format_has_no_control_bits() -> None:
    plain = frame_bits(8, address_bytes=5, crc_bytes=2, control_bits=0)

    assert plain == frame_bits(8, address_bytes=5, crc_bytes=2) - 9


@pytest.mark.parametrize(
    ("profile", "ns"), [("gfsk-250k", 548_000), ("gfsk-1M", 137_000), ("gfsk-2M", 68_500)]
)
def test_eight_bytes_on_the_air(profile: str, ns: int) -> None:
    assert bits_ns(137, PROFILES[profile].bit_rate) == ns


@given(st.integers(0, 10_000), st.integers(1_000, 100_000_000))
def test_time_on_air_is_the_nearest_nanosecond(bits: int, bit_rate: int) -> None:
    exact = Fraction(bits * 1_000_000_000, bit_rate)

    assert abs(bits_ns(bits, bit_rate) - exact) <= Fraction(1, 2)


def test_an_upload_moves_the_command_byte_too() -> None:
    assert upload_ns(32, 8_000_000, 10_000) == 33_000 + 10_000


def test_without_the_settle_time_a_retry_delay_must_span_both() -> None:
    assert shortest_retry_delay_ns(130_000, 73_000, True) == 203_000
    assert shortest_retry_delay_ns(130_000, 73_000, False) == 333_000


def test_every_profile_stands_under_its_own_name() -> None:
    assert all(name == profile.name for name, profile in PROFILES.items())
