"""Bit errors: from noise and overlap to what is left of a frame; loss bursts (C2, C3).

Ratios are linear; a signal to noise ratio is that of one bit's energy to the noise density, which
is the ratio of powers in a bandwidth equal to the bit rate.

Each burst's length is exponential with its own mean. Sources: E. N. Gilbert, BSTJ 39, 1960; E. O.
Elliott, BSTJ 42, 1963 (in steps; restated); in continuous time derived from them.
"""

import math
from functools import cache
from itertools import pairwise

from radiosim.marks import rule
from radiosim.radio.profiles import Profile
from radiosim.units import db_to_ratio, dbm_to_mw

BIT_ERRORS_AT_SENSITIVITY = 1e-3
"""Share of wrong bits at which sensitivity is stated (PS 5.4, from memory)."""
SNR_AT_SENSITIVITY = -2.0 * math.log(2.0 * BIT_ERRORS_AT_SENSITIVITY)
"""The ratio that gives this share: 2 ln 500 = 12.43, 10.94 dB."""


@rule
def bit_error_rate(snr: float) -> float:
    """Share of wrong bits, ½ e^(−γ/2); ½ without a signal.

    Non-coherent detection of FSK in white noise. Source: J. G. Proakis, "Digital Communications"
    (seen). Real receivers lie a few dB off; what is measured at sensitivity takes that up.
    """
    return 0.5 * math.exp(-0.5 * snr)


@rule
def hazard_per_bit(snr: float) -> float:
    """−ln(1 − bit error rate): hazards of bits add up, and e^(−sum) is the chance of no error."""
    return -math.log1p(-bit_error_rate(snr))


def frame_error_rate(bit_errors: float, bits: int) -> float:
    """Chance that at least one of a frame's bits is wrong, 1 − (1 − b)ⁿ; independent bits."""
    if bit_errors >= 1:
        return 1.0
    return -math.expm1(bits * math.log1p(-bit_errors))


def noise_mw(sensitivity_dbm: float) -> float:
    """The noise that makes a signal at sensitivity have 0.1 % of its bits wrong, mW."""
    return dbm_to_mw(sensitivity_dbm) / SNR_AT_SENSITIVITY


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
    offsets of the table, counts by the table both ways. Derived."""
    offset_mhz = abs(other_mhz - own_mhz)
    if other_width_mhz <= profile.bandwidth_mhz:
        return cochannel_weight(rejection_db(profile, offset_mhz))
    return _flat_weight(profile, offset_mhz, other_width_mhz)


def _flat_weight(profile: Profile, offset_mhz: float, other_width_mhz: float) -> float:
    half_mhz = profile.bandwidth_mhz / 2
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


NETWORK_SKIRTS = ((0.9, 0.0), (1.1, -20.0), (2.0, -28.0), (3.0, -40.0))
"""What a network may send beside its channel: (half widths from its centre, dB below its middle),
straight in between, the last for all further (IEEE 802.11, transmit spectrum mask of 20 MHz: 0 dBr
to 9 MHz, -20 at 11, -28 at 20, -40 at 30; from memory). A limit, which many stay below."""
_REACH = 4.0
"""Half widths beyond which nothing is counted."""
_SLICES = 160


@cache
def network_weight(
    profile: Profile, own_mhz: float, other_mhz: float, other_width_mhz: float
) -> float:
    """How many times its power a network counts as noise, its skirts counted; centres and width in
    MHz.

    Its spectrum is cut into slices, each as flat as `interference_weight` takes it.
    """
    half_mhz, step = other_width_mhz / 2, 2 * _REACH / _SLICES
    places = [-_REACH + (k + 0.5) * step for k in range(_SLICES)]
    powers = [db_to_ratio(skirt_db(abs(place))) for place in places]
    weighed = math.fsum(
        power * _flat_weight(profile, abs(other_mhz + place * half_mhz - own_mhz), step * half_mhz)
        for place, power in zip(places, powers, strict=True)
    )
    return weighed / math.fsum(powers)


def skirt_db(half_widths: float) -> float:
    """How far below its middle a network's spectrum may be so far from its centre, dB."""
    for (near, near_db), (far, far_db) in pairwise(NETWORK_SKIRTS):
        if half_widths <= near:
            return near_db
        if half_widths <= far:
            return near_db + (half_widths - near) / (far - near) * (far_db - near_db)
    return NETWORK_SKIRTS[-1][1]


def _overlap(low: float, high: float, inner: float, outer: float) -> float:
    return max(0.0, min(high, outer) - max(low, inner))


def share_bad(good_ms: float, bad_ms: float) -> float:
    """Share of the time that is bad: bad / (good + bad), of the mean lengths."""
    return bad_ms / (good_ms + bad_ms)


def correlation(apart_ms: float, good_ms: float, bad_ms: float) -> float:
    """Correlation of the state with itself that much later: e^(−t (1/good + 1/bad))."""
    return math.exp(-apart_ms * (1 / good_ms + 1 / bad_ms))


def mean_loss(good_ms: float, bad_ms: float, loss_good: float, loss_bad: float) -> float:
    """Share of single attempts lost, both states together."""
    bad = share_bad(good_ms, bad_ms)
    return (1 - bad) * loss_good + bad * loss_bad


def both_lost(
    apart_ms: float, good_ms: float, bad_ms: float, loss_good: float, loss_bad: float
) -> float:
    """Chance that two attempts so far apart are both lost: more than the mean loss squared.

    Mean² + share bad · share good · (loss bad − loss good)² · correlation.
    """
    bad, lost = share_bad(good_ms, bad_ms), mean_loss(good_ms, bad_ms, loss_good, loss_bad)
    spread = bad * (1 - bad) * (loss_bad - loss_good) ** 2
    return float(lost**2 + spread * correlation(apart_ms, good_ms, bad_ms))
