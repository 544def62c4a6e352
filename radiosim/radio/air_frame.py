"""Frames on the air: their length and time, their CRC, and the retry delays that radios hold.

Sources: PSp (preliminary edition of PS, v1.0, March 2008) 7.3.5: polynomials 0x07 with start
0xFF and 0x1021 with start 0xFFFF; PS 7.3.5: it covers address, control field and payload.
"""

import functools
from binascii import crc_hqx

from radiosim.units import NS_PER_US

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


def until_retry_ns(delay_ns: int, settle_ns: int, retry_settle: bool) -> int:
    """Time from the end of an attempt to the next one, ns (rule B4)."""
    return delay_ns + (settle_ns if retry_settle else 0)


def shortest_retry_delay_ns(settle_ns: int, acknowledgement_ns: int, retry_settle: bool) -> int:
    """Shortest delay with which an acknowledgement can be over before the retry (rule B4)."""
    return (1 if retry_settle else 2) * settle_ns + acknowledgement_ns


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


STEP_US = 250
"""Radios know retry delays in these steps (PS 7.4.2)."""
LONGEST_US = 4000
"""Step 15, the last (PS 7.4.2)."""


def step_of(delay_us: float) -> int | None:
    """The number that a firmware gives the radio for a delay (delay/250 − 1); None if it has none.

    Source: PS 7.4.2, delays of 250 to 4000 us in steps of 250 (S).
    """
    steps, rest = divmod(delay_us, STEP_US)
    return int(steps) - 1 if not rest and STEP_US <= delay_us <= LONGEST_US else None


def first_step_us(shortest_ns: int) -> int | None:
    """The shortest delay that radios know and that is no shorter than this, us; None: no delay of
    theirs is as long."""
    found_us = max(STEP_US, -(-shortest_ns // (STEP_US * NS_PER_US)) * STEP_US)
    return found_us if found_us <= LONGEST_US else None


def with_step(delay_us: float) -> str:
    """A delay with its step number, as every message shows it: `750 us (step 2)`."""
    step = step_of(delay_us)
    return f"{delay_us:g} us ({'no step' if step is None else f'step {step}'})"


def neighbours(delay_us: float) -> str:
    """The steps around a delay that is none, with their numbers."""
    if delay_us > LONGEST_US:
        return f"the last is {with_step(LONGEST_US)}"
    if delay_us < STEP_US:
        return f"the first is {with_step(STEP_US)}"
    below_us = delay_us // STEP_US * STEP_US
    return f"next to it are {with_step(below_us)} and {with_step(below_us + STEP_US)}"
