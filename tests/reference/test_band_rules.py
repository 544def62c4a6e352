"""Figures of the band, of house networks and of the rules that cautions are printed about.

Sources: ETSI EN 300 328 V1.8.1 (EN300328), 47 CFR 15.249 (FCC), house networks as restated; worked
values of facts 10 and 11. Printed as a caution, never as advice.
"""

import pytest

from radiosim.radio.band import (
    DENSITY_LIMIT_DBM_PER_MHZ,
    FIELD_AT_M,
    FIELD_LIMIT_V_M,
    MEDIUM_USE_LIMIT,
    inside,
    medium_use,
    network_centre_mhz,
    radiated_dbm,
)
from radiosim.radio.profiles import PROFILES
from tests.reference.outside import DERIVED, MEMORY, SEEN, check, outside
from tests.reference.sources import BAND, EN300328, FACTS, FCC, NETWORK, PS


@outside(
    "first and last channel that stay in the band with their width and a clock of 60 ppm",
    source=f"{BAND.key}; {PS.key} front page; {FACTS.at('10')}",
    status=DERIVED,
)
@pytest.mark.parametrize(
    ("profile", "ends"), [("gfsk-250k", "1 82"), ("gfsk-1M", "1 82"), ("gfsk-2M", "2 82")]
)
def test_channels_inside_the_band(profile: str, ends: str) -> None:
    channels = inside(PROFILES[profile])

    check.same(f"{channels[0]} {channels[-1]}", ends)


@outside(
    "isotropic power of 50 mV/m at 3 m",
    source=f"{FCC.key}; {FACTS.at('10')}",
    status=DERIVED,
    unit="dBm",
)
def test_power_of_the_field_limit() -> None:
    check.near(radiated_dbm(FIELD_LIMIT_V_M, FIELD_AT_M), -1.249, within=0.0005)


@outside("medium use at 20 dBm and 10 %: the limit itself", source=EN300328.key, status=MEMORY)
def test_medium_use_at_the_limit() -> None:
    check.near(medium_use(20.0, 0.1), MEDIUM_USE_LIMIT, within=1e-12)


@outside("medium use at 0 dBm, always on, (P / 100 mW) · duty", source=EN300328.key, status=SEEN)
def test_medium_use_of_a_weak_transmitter() -> None:
    check.near(medium_use(0.0, 1.0), 0.01, within=1e-12)


@outside("density limit without hopping", source=EN300328.key, status=SEEN, unit="dBm/MHz")
def test_density_limit() -> None:
    check.same(DENSITY_LIMIT_DBM_PER_MHZ, 10.0)


@outside(
    "centre of a house network's channel, 2412 + 5 (n − 1)",
    source=f"{NETWORK.key}; {FACTS.at('11')}",
    status=SEEN,
    unit="MHz",
)
@pytest.mark.parametrize(("channel", "mhz"), [(1, 2412.0), (6, 2437.0), (11, 2462.0), (13, 2472.0)])
def test_network_centres(channel: int, mhz: float) -> None:
    check.same(network_centre_mhz(channel), mhz)
