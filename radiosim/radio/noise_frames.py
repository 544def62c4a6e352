"""Noise that passes for a frame (facts 15).

A radio that listens and receives nothing hands on random bits at the rate of the air. With each of
them an address may be complete, and the bits behind it are taken for a frame if its CRC fits.
"""

import math

from radiosim.chance import ONE_53
from radiosim.units import NS_PER_HOUR, NS_PER_S


def noise_frames_per_hour(bit_rate: int, address_bytes: int, crc_bytes: int) -> float:
    """How often noise passes for a frame to one address, an hour of listening.

    Every bit pattern is as likely as any other; the preamble is not looked at, and any length is
    taken (assumptions, on the safe side).
    """
    return NS_PER_HOUR / NS_PER_S * bit_rate * 2.0 ** (-8 * (address_bytes + crc_bytes))


def waits_hours(drawn_53: int, per_hour: float) -> float:
    """Hours until noise next passes for a frame: exponential, by its draw below 2⁵³."""
    return -math.log1p(-drawn_53 / ONE_53) / per_hour
