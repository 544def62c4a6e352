"""How long a frame, an acknowledgement and an upload take."""

BITS_PER_BYTE = 8


def frame_bits(
    payload_bytes: int,
    *,
    address_bytes: int,
    crc_bytes: int,
    preamble_bytes: int = 1,
    control_bits: int = 9,
) -> int:
    """Bits of one frame on the air; the plain format has no control bits.

    Source: PS 7.3 (see profiles.py): preamble, address, control field, payload, CRC.
    """
    whole_bytes = preamble_bytes + address_bytes + payload_bytes + crc_bytes
    return BITS_PER_BYTE * whole_bytes + control_bits


def bits_ns(bits: int, bit_rate: int) -> int:
    """Time on the air of a number of bits, nearest ns; `bit_rate` in bit/s."""
    return (2 * bits * 1_000_000_000 + bit_rate) // (2 * bit_rate)


def upload_ns(payload_bytes: int, spi_hz: float, overhead_ns: int) -> int:
    """Time to move one payload and its command byte over the SPI, ns (rule B1)."""
    bits = BITS_PER_BYTE * (1 + payload_bytes)
    return round(bits * 1e9 / spi_hz) + overhead_ns


def shortest_retry_delay_ns(settle_ns: int, acknowledgement_ns: int, retry_settle: bool) -> int:
    """Shortest delay with which an acknowledgement can be over before the retry (rule B4)."""
    return (1 if retry_settle else 2) * settle_ns + acknowledgement_ns
