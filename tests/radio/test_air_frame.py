"""The CRC that a frame carries."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.radio.air_frame import (
    bits_ns,
    control_field,
    crc_of,
    frame_bits,
    neighbours,
    shortest_retry_delay_ns,
    step_of,
    upload_ns,
    with_step,
)
from radiosim.radio.profiles import PROFILES

ADDRESS = bytes.fromhex("C3 A1 5E 7B 01")


def test_the_control_field_holds_length_number_and_flag() -> None:
    assert control_field(32, 0, False) == 0b100000_00_0
    assert control_field(7, 2, True) == 0b000111_10_1


def test_a_packet_number_has_two_bits() -> None:
    assert control_field(7, 5, False) == control_field(7, 1, False)


@given(st.integers(0, 63), st.integers(0, 3), st.booleans())
def test_a_control_field_has_nine_bits(length: int, number: int, flag: bool) -> None:
    assert 0 <= control_field(length, number, flag) < 2**9


@given(st.sampled_from([1, 2]), st.binary(min_size=1, max_size=32), st.data())
def test_one_wrong_bit_is_always_noticed(width: int, payload: bytes, data: st.DataObject) -> None:
    bit = data.draw(st.integers(0, 8 * len(payload) - 1))
    wrong = bytearray(payload)
    wrong[bit // 8] ^= 1 << bit % 8
    control = control_field(len(payload), 1, False)

    right = crc_of(width, ADDRESS, control, 9, payload)

    assert 0 <= right < 256**width
    assert crc_of(width, ADDRESS, control, 9, bytes(wrong)) != right


def test_the_packet_number_is_covered() -> None:
    first, second = (control_field(2, number, False) for number in (0, 1))

    assert crc_of(2, ADDRESS, first, 9, b"ab") != crc_of(2, ADDRESS, second, 9, b"ab")


def test_the_address_is_covered() -> None:
    other = bytes.fromhex("C3 A1 5E 7B 02")

    assert crc_of(1, ADDRESS, 0, 9, b"ab") != crc_of(1, other, 0, 9, b"ab")


def test_no_checksum_is_zero() -> None:
    assert crc_of(0, ADDRESS, 0, 0, b"ab") == 0


# Source: PS 7.4.2 (facts: S): 250 to 4000 us in steps of 250. The step number is the register's.
@pytest.mark.parametrize(("delay_us", "step"), [(250, 0), (500, 1), (750, 2), (4000, 15)])
def test_a_delay_has_the_step_number_that_firmwares_hold(delay_us: float, step: int) -> None:
    assert step_of(delay_us) == step
    assert with_step(delay_us) == f"{delay_us} us (step {step})"


@pytest.mark.parametrize("delay_us", [0.0, 100, 249.9, 600, 4250, 1e9])
def test_other_delays_have_none(delay_us: float) -> None:
    assert step_of(delay_us) is None
    assert with_step(delay_us).endswith("(no step)")


@given(st.integers(min_value=0, max_value=15))
def test_step_and_delay_are_inverse(step: int) -> None:
    assert step_of(250.0 * (step + 1)) == step


def test_the_steps_around_are_named() -> None:
    assert neighbours(600) == "next to it are 500 us (step 1) and 750 us (step 2)"
    assert neighbours(5000) == "the last is 4000 us (step 15)"
    assert neighbours(100) == "the first is 250 us (step 0)"


# Worked from PS 7.3 (status S): preamble 1, address 5, control 9 bits, CRC 2.
@pytest.mark.parametrize(("payload", "bits"), [(0, 73), (8, 137), (16, 201), (32, 329)])
def test_bits_of_a_frame(payload: int, bits: int) -> None:
    assert frame_bits(payload, address_bytes=5, crc_bytes=2) == bits


# Worked from PS 7.3 (status S): 1 byte of preamble, 3 to 5 of address, 9 control bits, a payload of
# 8 bytes, 0 to 2 of CRC.
@pytest.mark.parametrize(
    ("address", "crc", "bits"),
    [
        *((3, 0, 105), (3, 1, 113), (3, 2, 121)),
        *((4, 0, 113), (4, 1, 121), (4, 2, 129)),
        *((5, 0, 121), (5, 1, 129), (5, 2, 137)),
    ],
)
def test_bits_of_a_frame_with_every_address_and_crc(address: int, crc: int, bits: int) -> None:
    assert frame_bits(8, address_bytes=address, crc_bytes=crc) == bits


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
