"""Whether a signal survives what overlaps it (rule C2)."""

from radiosim.marks import rule


@rule
def survives(signal_mw: float, others_mw: float, cochannel_ratio: float) -> bool:
    """True if a signal is stronger than the sum of the others by the co-channel ratio or more.

    Powers in mW at one listener, at one instant; the ratio is a power ratio ≥ 1. Of equal powers
    none survives, whatever the ratio. Source of the threshold: PS 5.4 table 9 (see profiles.py).
    """
    return signal_mw > others_mw and signal_mw >= others_mw * cochannel_ratio


def cochannel_weight(cochannel_db: float) -> float:
    return 10 ** (cochannel_db / 10) / 12.429


def interference_weight(profile, own_mhz, other_mhz, width_mhz) -> float:
    return (
        cochannel_weight(profile.cochannel_db)
        * (1.0 if abs(own_mhz - other_mhz) < width_mhz / 2 else 0.001)
        / max(width_mhz, 1)
    )
