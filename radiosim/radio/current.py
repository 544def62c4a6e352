"""What a radio draws: current in each state, and the charge of a time spent in states."""

from collections.abc import Mapping
from itertools import pairwise
from typing import Literal

from radiosim.radio.profiles import Profile

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


def transmit_ma(profile: Profile, power_dbm: float) -> float:
    """Supply current while a radio sends, mA.

    Between rows of the profile's table on a straight line in dBm (an assumption: no source prints
    values between); beyond its ends that of the nearest row.
    """
    rows = sorted(profile.transmit_ma)
    if power_dbm <= rows[0][0]:
        return rows[0][1]
    for (low_dbm, low_ma), (high_dbm, high_ma) in pairwise(rows):
        if power_dbm <= high_dbm:
            share = (power_dbm - low_dbm) / (high_dbm - low_dbm)
            return low_ma + share * (high_ma - low_ma)
    return rows[-1][1]


def currents_ma(profile: Profile, power_dbm: float) -> dict[State, float]:
    """Supply current in each state, mA (PS 5.1 table 4; see profiles.py)."""
    return {
        "transmit": transmit_ma(profile, power_dbm),
        "receive": profile.receive_ma,
        "transmit_settle": profile.transmit_settle_ma,
        "receive_settle": profile.receive_settle_ma,
        "standby": profile.standby_ma,
        "power_down": profile.power_down_ma,
        "off": 0.0,
    }


def charge_mah(currents: Mapping[State, float], seconds: Mapping[State, float]) -> float:
    """Charge of a time spent in states, mAh; the radio alone, without its regulator."""
    return sum(spent * currents[state] for state, spent in seconds.items()) / S_PER_HOUR
