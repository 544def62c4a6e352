"""Whether a signal survives what overlaps it (rule C2), and how much each transmitter counts."""

import math

from radiosim.marks import rule
from radiosim.radio.bit_errors import SNR_AT_SENSITIVITY
from radiosim.radio.profiles import Profile
from radiosim.units import db_to_ratio


@rule
def survives(signal_mw: float, others_mw: float, cochannel_ratio: float) -> bool:
    """True if a signal is stronger than the sum of the others by the co-channel ratio or more.

    Powers in mW at one listener, at one instant; the ratio is a power ratio ≥ 1. Of equal powers
    none survives, whatever the ratio. Source of the threshold: PS 5.4 table 9 (see profiles.py).
    """
    return signal_mw > others_mw and signal_mw >= others_mw * cochannel_ratio


def cochannel_weight(cochannel_db: float) -> float:
    """How many times its power an interferer counts as noise, so that rule C2's limit comes out.

    Where a signal is stronger than it by this many dB, and nothing else is heard, 0.1 % of the
    bits are wrong: the condition for which the figure is stated (PS 5.4, from memory; derived).
    """
    return db_to_ratio(cochannel_db) / SNR_AT_SENSITIVITY


def rejection_db(profile: Profile, offset_mhz: float) -> float:
    """How much stronger a signal must be than a like one whose centre is so far off, dB.

    Between the offsets of the table the figure of the nearer, worse neighbour holds; the last one
    holds beyond its offset only (PS 5.4 table 9, from memory; the steps are pessimistic).
    """
    found_db = profile.cochannel_db
    rows = sorted(profile.rejection_db)
    for from_mhz, row_db in rows:
        is_last = (from_mhz, row_db) == rows[-1]
        if offset_mhz > from_mhz or (offset_mhz == from_mhz and not is_last):
            found_db = row_db
    return found_db


def interference_weight(
    profile: Profile, own_mhz: float, other_mhz: float, other_width_mhz: float
) -> float:
    """How many times its power a transmitter from outside counts as noise; centres and width in
    MHz.

    One no wider than our own radios counts by the rejection at its offset. The power of a wider
    one is spread evenly: what falls into our bandwidth counts as co-channel, and each part beyond
    as a transmitter like ours whose nearest edge it is. So one exactly as wide as ours, at the
    offsets of the table, counts by the table both ways. Derived; network transmitters are flat to a
    few dB."""
    offset_mhz, half_mhz = abs(other_mhz - own_mhz), profile.bandwidth_mhz / 2
    if other_width_mhz <= profile.bandwidth_mhz:
        return cochannel_weight(rejection_db(profile, offset_mhz))
    low_mhz, high_mhz = offset_mhz - other_width_mhz / 2, offset_mhz + other_width_mhz / 2
    rows = [(max(half_mhz, mhz - half_mhz), db) for mhz, db in sorted(profile.rejection_db)]
    inner_mhz = [0.0, *(mhz for mhz, _ in rows)]
    outer_mhz = [*inner_mhz[1:], math.inf]
    weighed_mhz = 0.0
    for inner, outer, db in zip(
        inner_mhz, outer_mhz, [profile.cochannel_db, *(db for _, db in rows)], strict=True
    ):
        on_both_sides_mhz = _overlap(low_mhz, high_mhz, inner, outer)
        on_both_sides_mhz += _overlap(low_mhz, high_mhz, -outer, -inner)
        weighed_mhz += on_both_sides_mhz * cochannel_weight(db)
    return weighed_mhz / other_width_mhz


def _overlap(low: float, high: float, inner: float, outer: float) -> float:
    return max(0.0, min(high, outer) - max(low, inner))
