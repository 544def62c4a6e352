"""The band, its channels, and what rules often limit: figures for cautions, never advice.

Sources: ETSI EN 300 328 V1.8.1, final draft (EN300328); 47 CFR 15.249 (FCC); PS front page and
its older edition, 6.3 (see profiles.py). Local rules differ: check them.
"""

import math

from radiosim.radio.profiles import Profile
from radiosim.safety import LOCAL_RULES
from radiosim.units import db_to_ratio

FIRST_MHZ = 2400.0
BAND_MHZ = (2400.0, 2483.5)
"""EN300328 (seen)."""
CHANNELS = range(126)
"""Channels that a radio can be set to (PS2 6.3, seen)."""
CRYSTAL_PPM = 60.0
"""PS front page (seen)."""
NETWORK_CHANNELS = range(1, 14)
NETWORK_WIDTH_MHZ = 20.0
"""Width of a house network; 22 at the oldest rates (seen)."""

DENSITY_LIMIT_DBM_PER_MHZ = 10.0
"""Limit of power density of transmitters that do not hop (EN300328, seen)."""
MEDIUM_USE_LIMIT = 0.1
"""Of transmitters that do not adapt, above 10 dBm (EN300328: the rule seen, the figure from
memory)."""
MEDIUM_USE_FROM_DBM = 10.0
"""Below it the limit does not bind (EN300328, seen)."""
FIELD_LIMIT_V_M = 0.05
"""Limit of the field at 3 m of a transmitter on one channel (FCC, seen)."""
FIELD_AT_M = 3.0


def channel_mhz(channel: int) -> float:
    """Centre of a radio's channel, MHz: 2400 + n (PS2 6.3, seen)."""
    return FIRST_MHZ + channel


def network_centre_mhz(channel: int) -> float:
    """Centre of a house network's channel 1 to 13, MHz: 2412 + 5 (n − 1) (seen)."""
    return 2412.0 + 5.0 * (channel - 1)


def is_inside(channel: int, profile: Profile, clock_ppm: float = CRYSTAL_PPM) -> bool:
    """Whether a channel stays in the band with its whole width and a clock's error (derived)."""
    centre_mhz = channel_mhz(channel)
    reach_mhz = profile.bandwidth_mhz / 2 + centre_mhz * clock_ppm * 1e-6
    return BAND_MHZ[0] <= centre_mhz - reach_mhz and centre_mhz + reach_mhz <= BAND_MHZ[1]


def inside(profile: Profile, clock_ppm: float = CRYSTAL_PPM) -> tuple[int, ...]:
    """All channels that stay in the band."""
    return tuple(n for n in CHANNELS if is_inside(n, profile, clock_ppm))


def medium_use(power_dbm: float, duty: float) -> float:
    """Share of the medium that a transmitter takes: (P / 100 mW) · duty (EN300328, seen)."""
    return db_to_ratio(power_dbm - 20.0) * duty


def radiated_dbm(field_v_m: float, distance_m: float) -> float:
    """Isotropic power that makes a field, dBm: E² d² / 30 Ω in watts (textbooks)."""
    return 10.0 * math.log10(1000.0 * (field_v_m * distance_m) ** 2 / 30.0)


USUAL_LIMIT_DBM = 20.0
"""Radiated power that rules often end at in this band (from memory)."""


def power_caution() -> str:
    """What stands beside any text that speaks of more power: local rules, and usual limits."""
    one_channel_dbm = radiated_dbm(FIELD_LIMIT_V_M, FIELD_AT_M)
    return (
        f"more power only as far as rules let you: {LOCAL_RULES}; in {BAND_MHZ[0]:g} to "
        f"{BAND_MHZ[1]:g} MHz usual limits of what is radiated, antenna included, are "
        f"{one_channel_dbm:.1f} dBm on one channel (47 CFR 15.249), {DENSITY_LIMIT_DBM_PER_MHZ:g} "
        f"dBm in each MHz without hopping (EN 300 328) and {USUAL_LIMIT_DBM:g} dBm in all (from "
        "memory)"
    )
