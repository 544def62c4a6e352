"""The CRC that a frame carries, over its real bits.

Sources: PSp (preliminary edition of PS, v1.0, March 2008) 7.3.5: polynomials 0x07 with start
0xFF and 0x1021 with start 0xFFFF; PS 7.3.5: it covers address, control field and payload.
"""

import functools
from binascii import crc_hqx


def _shifted(crc: int, bit: int, polynomial: int, width: int) -> int:
    top = (crc >> (width - 1)) & 1
    crc = (crc << 1) & ((1 << width) - 1)
    return crc ^ polynomial if top ^ bit else crc


def _bit_serial(crc: int, value: int, bits: int, polynomial: int, width: int) -> int:
    for position in range(bits - 1, -1, -1):
        crc = _shifted(crc, (value >> position) & 1, polynomial, width)
    return crc


def crc_of(crc_bytes: int, address: bytes, control: int, control_bits: int, payload: bytes) -> int:
    """CRC of 0, 1 or 2 bytes over address, control bits and payload, first bit first."""
    if crc_bytes == 0:
        return 0
    begun = _before_payload(crc_bytes, address, control, control_bits)
    if crc_bytes == 1:
        return _bit_serial(begun, int.from_bytes(payload, "big"), 8 * len(payload), 0x07, 8)
    return crc_hqx(payload, begun)


@functools.lru_cache(maxsize=64)
def _before_payload(crc_bytes: int, address: bytes, control: int, control_bits: int) -> int:
    """The part that frames of one transmitter and packet number have in common."""
    if crc_bytes == 1:
        crc = _bit_serial(0xFF, int.from_bytes(address, "big"), 8 * len(address), 0x07, 8)
        return _bit_serial(crc, control, control_bits, 0x07, 8)
    return _bit_serial(crc_hqx(address, 0xFFFF), control, control_bits, 0x1021, 16)


def control_field(payload_bytes: int, packet_number: int, no_acknowledge: bool) -> int:
    """The nine control bits: length (6), packet number (2), no-acknowledge flag (1); PS 7.3.3."""
    return payload_bytes << 3 | (packet_number & 3) << 1 | int(no_acknowledge)
