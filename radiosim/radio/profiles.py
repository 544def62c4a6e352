"""Figures of the radios, each with its source and status.

Source, unless said otherwise: Nordic Semiconductor, "Single Chip 2.4GHz Transceiver, Product
Specification", v1.0, September 2008 (PS); section beside each figure. Status: S read in the
published text, M from memory.
"""

import math
from collections.abc import Mapping
from itertools import pairwise
from typing import Literal

import msgspec

from radiosim.units import dbm_to_mw

Rows = tuple[tuple[float, float], ...]
"""A table of two columns."""


class Profile(msgspec.Struct, frozen=True, kw_only=True):
    """What every radio on the link has in common."""

    name: str
    bit_rate: int
    """Bit rate on the air, bit/s (PS front page, S)."""
    settle_us: float = 130.0
    """Standby to active, and turn-round (PS 5.1 and 7.8, S)."""
    interrupt_us: float
    """From the last bit to the interrupt line (PS 7.7, M)."""
    preamble_bytes: int = 1
    """PS 7.3 (S)."""
    control_bits: int = 9
    """Length, packet number, no-acknowledge flag (PS 7.3, S)."""
    fifo_frames: int = 3
    """Depth of the transmit and of the receive FIFO (older edition 8.4, S)."""
    retry_settle: bool = True
    """Whether a settle time follows the retry delay (PS 7.4.2: wording S, figure M)."""
    acknowledge_window_us: float
    """How long a transmitter waits for the address of an acknowledgement (PS 7.4.2, S)."""
    crystal_start_us: float = 1500.0
    """From power-down (PS 5.1, S)."""
    power_on_reset_ms: float = 100.0
    """PS 6.1 (M)."""
    cochannel_db: float
    """How much stronger a signal must be than what overlaps it (PS 5.4 table 9, M)."""
    rejection_db: Rows
    """The same for a transmitter like it on another channel: (MHz away, dB), the last row for all
    further than that (PS 5.4 table 9, M)."""
    sensitivity_dbm: float
    """Level with 0.1 % of the bits wrong (PS 5.4, M)."""
    max_input_dbm: float = 0.0
    """Strongest level that it still takes (PS 5.4, M)."""
    bandwidth_mhz: float
    """Of its signal, by the least distance of channels (older edition 6.3, S; M that it is so)."""
    transmit_ma: Rows = ((0.0, 11.3), (-6.0, 9.0), (-12.0, 7.5), (-18.0, 7.0))
    """Supply current while it sends: (dBm, mA), at 3 V (PS 5.1 table 4, S)."""
    receive_ma: float
    """While it listens (PS 5.1 table 4, S)."""
    transmit_settle_ma: float = 8.0
    """Current on the way to sending, mA (PS 5.1 table 4, S)."""
    receive_settle_ma: float = 8.9
    """Current on the way to listening, mA (PS 5.1 table 4, S)."""
    standby_ma: float = 0.026
    """Ready, crystal running (PS 5.1 table 4, S)."""
    power_down_ma: float = 0.0009
    """Asleep (PS 5.1 table 4, S)."""


PROFILES: dict[str, Profile] = {
    profile.name: profile
    for profile in (
        Profile(
            name="gfsk-250k",
            bit_rate=250_000,
            # None is printed for this rate; the slower printed one stands in.
            interrupt_us=8.2,
            acknowledge_window_us=500.0,
            cochannel_db=7.0,
            rejection_db=((1.0, -12.0), (2.0, -34.0), (3.0, -39.0), (6.0, -50.0)),
            sensitivity_dbm=-94.0,
            bandwidth_mhz=1.0,
            receive_ma=12.6,
        ),
        Profile(
            name="gfsk-1M",
            bit_rate=1_000_000,
            interrupt_us=8.2,
            acknowledge_window_us=250.0,
            cochannel_db=12.0,
            rejection_db=((1.0, 8.0), (2.0, -21.0), (3.0, -30.0), (6.0, -40.0)),
            sensitivity_dbm=-85.0,
            bandwidth_mhz=1.0,
            receive_ma=13.1,
        ),
        Profile(
            name="gfsk-2M",
            bit_rate=2_000_000,
            interrupt_us=6.0,
            acknowledge_window_us=250.0,
            cochannel_db=11.0,
            rejection_db=((2.0, 4.0), (4.0, -18.0), (6.0, -24.0), (12.0, -40.0)),
            sensitivity_dbm=-82.0,
            bandwidth_mhz=2.0,
            receive_ma=13.5,
        ),
    )
}


State = Literal[
    "transmit",
    "receive",
    "transmit_settle",
    "receive_settle",
    "standby",
    "power_down",
    "off",
]
S_PER_HOUR = 3600.0


def transmit_ma(
    profile: Profile, power_dbm: float, amplifier_ma: float | None = None
) -> float | None:
    """Supply current while a radio sends, mA; None above its table: no source says it.

    Between rows of the profile's table on a straight line in dBm (an assumption: no source prints
    values between); below it that of the lowest row. `amplifier_ma`: of an amplifier behind the
    radio, which then sends as it draws most.
    """
    rows = sorted(profile.transmit_ma)
    if amplifier_ma is not None:
        return max(ma for _, ma in rows) + amplifier_ma
    if power_dbm <= rows[0][0]:
        return rows[0][1]
    for (low_dbm, low_ma), (high_dbm, high_ma) in pairwise(rows):
        if power_dbm <= high_dbm:
            share = (power_dbm - low_dbm) / (high_dbm - low_dbm)
            return low_ma + share * (high_ma - low_ma)
    return None


MOST_SUPPLY_V = 5.0
"""The most that such a module, amplifier included, is fed with (common practice, no source)."""


def least_transmit_ma(power_dbm: float) -> float:
    """Current below which a radio would radiate more than it draws, mA."""
    return dbm_to_mw(power_dbm) / MOST_SUPPLY_V


def currents_ma(
    profile: Profile, power_dbm: float, amplifier_ma: float | None = None
) -> dict[State, float] | None:
    """Supply current in each state, mA (PS 5.1 table 4; see profiles.py); None: not known."""
    transmit = transmit_ma(profile, power_dbm, amplifier_ma)
    if transmit is None:
        return None
    return {
        "transmit": transmit,
        "receive": profile.receive_ma,
        "transmit_settle": profile.transmit_settle_ma,
        "receive_settle": profile.receive_settle_ma,
        "standby": profile.standby_ma,
        "power_down": profile.power_down_ma,
        "off": 0.0,
    }


def charge_mah(currents: Mapping[State, float], seconds: Mapping[State, float]) -> float:
    """Charge of a time spent in states, mAh; the radio alone, without its regulator."""
    return math.fsum(spent * currents[state] for state, spent in seconds.items()) / S_PER_HOUR
