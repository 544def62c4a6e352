"""The CRC that a frame carries."""

from hypothesis import given
from hypothesis import strategies as st

from radiosim.radio.crc import control_field, crc_of

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
