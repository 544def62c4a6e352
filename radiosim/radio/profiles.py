"""Figures of the radios, each with its source and status.

Source, unless said otherwise: Nordic Semiconductor, "Single Chip 2.4GHz Transceiver, Product
Specification", v1.0, September 2008 (PS); section beside each figure. Status: S read in the
published text, M from memory.
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Profile:
    """What every radio on the link has in common."""

    name: str
    bit_rate: int
    """On the air, bit/s (PS front page, S)."""
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
    """How long a sender waits for the address of an answer (PS 7.4.2, S)."""
    crystal_start_us: float = 1500.0
    """From power-down (PS 5.1, S)."""
    power_on_reset_ms: float = 100.0
    """PS 6.1 (M)."""
    cochannel_db: float
    """How much stronger a signal must be than what overlaps it (PS 5.4 table 9, M)."""
    sensitivity_dbm: float = -85.0
    max_input_dbm: float = 0.0
    bandwidth_mhz: float = 1.0


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
        ),
        Profile(
            name="gfsk-1M",
            bit_rate=1_000_000,
            interrupt_us=8.2,
            acknowledge_window_us=250.0,
            cochannel_db=12.0,
        ),
        Profile(
            name="gfsk-2M",
            bit_rate=2_000_000,
            interrupt_us=6.0,
            acknowledge_window_us=250.0,
            cochannel_db=11.0,
        ),
    )
}
