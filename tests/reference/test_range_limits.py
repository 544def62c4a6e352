"""Where a requirement stops holding against closed forms of the link budget.

A frame of n bits arrives with (1 − ½ e^(−γ/2))ⁿ (noncoherent FSK); the rated sensitivity is where
one bit in a thousand fails; free space takes 20 log₁₀(4π d f / c), two rays far off
40 log₁₀ d − 20 log₁₀(h₁ h₂).
"""

import math

import pytest

from radiosim.scenario import parse
from radiosim.study.range import reach
from tests.reference.outside import DERIVED, check, outside
from tests.reference.sources import FACTS, P525, PROPAGATION

BITS = 8 * (1 + 5 + 6 + 2)
"""Preamble, address, payload, CRC; no control field without acknowledgements."""
SENSITIVITY_DBM, MHZ, LIGHT_M_S = -85.0, 2476.0, 299_792_458.0
WITHIN = 0.06
"""Half a dB: frames are counted, not integrated, and limits found to 0.1 dB."""


def margin_for(share: float) -> float:
    """Level over the rated sensitivity at which this share of frames arrives, dB."""
    error = 1 - share ** (1 / BITS)
    return 10 * math.log10(math.log(2 * error) / math.log(2 * 1e-3))


def scenario(path: str, power_dbm: int, share: float) -> str:
    return f"""
duration_s = 60
starts = 2
radio = {{ profile = "gfsk-1M", channel = 76, address_bytes = 5, crc_bytes = 2 }}
receiver.boot_s = 0
transmitter.drive.boot_s = 0
transmitter.drive.period_ms = 20
transmitter.drive.payload_bytes = 6
transmitter.drive.acknowledge = false
transmitter.drive.power_dbm = {power_dbm}
air.range = {{ distance_m = 10, path = "{path}", fading = "none", receiver_height_m = 0.5 }}
[[requirement]]
figure = "stream.drive.delivery_ratio"
at_least = {share}
"""


@outside(
    "distances up to which a share of frames arrives with 6 dB less and with 6 dB more, "
    "over the closed form's",
    source=f"{P525.key}; {PROPAGATION.key}; {FACTS.at('4')}",
    status=DERIVED,
)
@pytest.mark.parametrize("end", [0, 1], ids=["worse", "better"])
@pytest.mark.parametrize(
    ("path", "power_dbm", "share"),
    [("free-space", -18, 0.5), ("free-space", 0, 0.9), ("two-ray", 0, 0.5)],
)
def test_limits_are_those_of_the_link_budget(
    path: str, power_dbm: int, share: float, end: int
) -> None:
    loss_db = power_dbm - SENSITIVITY_DBM - margin_for(share) + (-6, 6)[end]
    if path == "free-space":
        expected_m = 10 ** (loss_db / 20) * LIGHT_M_S / (4 * math.pi * MHZ * 1e6)
    else:
        expected_m = 10 ** ((loss_db + 20 * math.log10(1.2 * 0.5)) / 40)
    (limit,) = reach(parse(scenario(path, power_dbm, share)), 6, workers=1).limits

    check.near(limit.distance_m[end] / expected_m, 1.0, within=WITHIN)
