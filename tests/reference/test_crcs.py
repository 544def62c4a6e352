"""The CRC against published check values, a CRC library, and long division.

Check values of "123456789": 0x1021 with start 0xFFFF 0x29B1, with start 0 0x31C3; 0x07 with
start 0 0xF4, with start 0xFF 0xFB (computed with independent scripts, D; the first three are
widely published check values, M). Polynomials and starts: preliminary edition of PS (v1.0, March
2008) 7.3.5 (S). Compared bit by bit.
"""

import crcmod
import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.radio.air_frame import crc_of
from tests.reference.outside import MEMORY, SECOND, SEEN, check, outside
from tests.reference.sources import CRC, LIBRARY, PS, PSP

POLYNOMIALS = {1: 0x107, 2: 0x11021}
STARTS = {1: 0xFF, 2: 0xFFFF}
addresses = st.binary(min_size=3, max_size=5)
payloads = st.binary(max_size=32)
lengths = st.sampled_from([1, 2])


def library_checksum(crc_bytes: int, text: bytes, start: int) -> int:
    made = crcmod.mkCrcFun(POLYNOMIALS[crc_bytes], initCrc=start, rev=False, xorOut=0)
    return int(made(text))


def remainder(crc_bytes: int, bits: str) -> int:
    """The CRC by dividing the whole message, the start value added to its first bits."""
    width, polynomial = 8 * crc_bytes, POLYNOMIALS[crc_bytes]
    dividend = (int(bits, 2) << width) ^ (STARTS[crc_bytes] << len(bits))
    while dividend.bit_length() > width:
        dividend ^= polynomial << (dividend.bit_length() - width - 1)
    return dividend


@outside(
    "the library's CRCs of 123456789, 0x1021 and 0x07 with both starts",
    source=f"{CRC.key}; {LIBRARY.at('crcmod')}",
    status=MEMORY,
)
@pytest.mark.parametrize(
    ("crc_bytes", "start", "printed"),
    [(2, 0xFFFF, 0x29B1), (2, 0, 0x31C3), (1, 0, 0xF4), (1, 0xFF, 0xFB)],
)
def test_the_library_gives_the_published_check_values(
    crc_bytes: int, start: int, printed: int
) -> None:
    check.same(f"{library_checksum(crc_bytes, b'123456789', start):#06x}", f"{printed:#06x}")


@outside("CRC of 123456789, 8 and 16 bits", source=CRC.key, status=MEMORY)
@pytest.mark.parametrize(("crc_bytes", "printed"), [(1, 0xFB), (2, 0x29B1)])
def test_check_values_come_out(crc_bytes: int, printed: int) -> None:
    check.same(f"{crc_of(crc_bytes, b'12345', 0, 0, b'6789'):#06x}", f"{printed:#06x}")


@outside("CRC of random frames, whole bytes", source=LIBRARY.at("crcmod"), status=SECOND)
@given(lengths, addresses, st.integers(0, 255), payloads)
def test_whole_bytes_agree_with_the_library(
    crc_bytes: int, address: bytes, control: int, payload: bytes
) -> None:
    text = address + bytes([control]) + payload
    expected = library_checksum(crc_bytes, text, STARTS[crc_bytes])

    check.agree(crc_of(crc_bytes, address, control, 8, payload), expected)


@outside(
    "CRC of random frames with their 9 control bits, by long division",
    source=f"{PSP.at('7.3.5')}; {PS.at('7.3.5')}",
    status=SEEN,
)
@given(lengths, addresses, st.integers(0, 511), payloads)
def test_nine_control_bits_agree_with_long_division(
    crc_bytes: int, address: bytes, control: int, payload: bytes
) -> None:
    bits = "".join(f"{octet:08b}" for octet in address) + f"{control:09b}"
    bits += "".join(f"{octet:08b}" for octet in payload)

    check.agree(crc_of(crc_bytes, address, control, 9, payload), remainder(crc_bytes, bits))
