"""Bit and frame errors against worked values, and fading against Marcum's Q and simulation.

Sources: J. G. Proakis, "Digital Communications" (non-coherent FSK seen; the mean over Rayleigh
fading of chapter 14 and Marcum's Q from memory); worked values of facts 4; scipy as second opinion.
"""

import math

import numpy as np
import pytest
from scipy import integrate, special, stats

from radiosim.radio.bit_errors import (
    SNR_AT_SENSITIVITY,
    bit_error_rate,
    frame_error_rate,
    hazard_per_bit,
)
from radiosim.radio.propagation import mean_frame_error, rayleigh_outage, rician_outage
from radiosim.units import db_to_ratio
from tests.reference.outside import (
    CHANCE_OF_FAILURE,
    DERIVED,
    DERIVED_FROM_MEMORY,
    MEMORY,
    SECOND,
    SEEN,
    check,
    outside,
)
from tests.reference.sources import FACTS, LIBRARY, PROAKIS, PS

TRIALS = 200_000


@outside("bit error rate of non-coherent FSK", source=PROAKIS.key, status=SEEN)
@pytest.mark.parametrize(("db", "rate"), [(10, 3.369e-3), (12, 1.809e-4)])
def test_bit_error_rates(db: float, rate: float) -> None:
    check.near(bit_error_rate(db_to_ratio(db)), rate, within=0.0005 * rate)


@outside(
    "signal to noise ratio at sensitivity, 1 bit in 1000 wrong",
    source=f"{PS.at('5.4')}; {FACTS.at('4')}",
    status=DERIVED_FROM_MEMORY,
    unit="dB",
)
def test_ratio_at_sensitivity() -> None:
    check.near(10 * math.log10(SNR_AT_SENSITIVITY), 10.94, within=0.005)


@outside("frame error rate of 201 bits", source=FACTS.at("4"), status=DERIVED)
@pytest.mark.parametrize(("db", "rate"), [(10, 0.4925), (12, 0.03571)])
def test_frame_error_rates(db: float, rate: float) -> None:
    check.near(frame_error_rate(bit_error_rate(db_to_ratio(db)), 201), rate, within=0.00005)


@outside("frame error rate at rated sensitivity", source=FACTS.at("4"), status=DERIVED_FROM_MEMORY)
@pytest.mark.parametrize(("bits", "rate"), [(137, 0.1281), (329, 0.2805)])
def test_frame_errors_at_sensitivity(bits: int, rate: float) -> None:
    check.near(-math.expm1(-bits * hazard_per_bit(SNR_AT_SENSITIVITY)), rate, within=0.00005)


@outside(
    "bit error rate averaged over Rayleigh fading, 1/(2 + Γ)",
    source=PROAKIS.at("ch. 14"),
    status=MEMORY,
)
@pytest.mark.parametrize("db", [0, 10, 20, 30])
def test_mean_bit_error_in_rayleigh_fading(db: float) -> None:
    mean = db_to_ratio(db)
    averaged = integrate.quad(
        lambda snr: math.exp(-snr / mean) / mean * bit_error_rate(snr), 0, 200, points=(5, 20)
    )[0]

    check.near(averaged, 1 / (2 + mean), within=1e-7)


@outside(
    "frame error rate of 201 bits in Rayleigh fading that stays over a frame, mean 20 dB",
    source=FACTS.at("4"),
    status=DERIVED,
)
def test_frame_error_in_block_fading() -> None:
    check.near(mean_frame_error(100.0, 201, "rayleigh"), 0.09830, within=0.000005)


@outside(
    "that the mean bit error would make of it: not to be used", source=FACTS.at("4"), status=DERIVED
)
def test_averaging_the_bit_error_is_wrong() -> None:
    check.near(frame_error_rate(1 / 102, 201), 0.862, within=0.0005)


@outside(
    "frame error rate in Rician fading, by simulation of its waves",
    source=FACTS.at("4"),
    status=DERIVED,
    chance=CHANCE_OF_FAILURE,
)
@pytest.mark.parametrize(("snr_db", "k_db"), [(12, 6), (16, 6), (16, 0), (20, -6)])
def test_frame_error_in_rician_fading_by_simulation(snr_db: float, k_db: float) -> None:
    powers, chance = rician_powers(k_db, seed=snr_db), np.random.default_rng(2)
    errors = 0.5 * np.exp(-0.5 * db_to_ratio(snr_db) * powers)
    lost = chance.random(TRIALS) > np.exp(201 * np.log1p(-errors))

    expected = mean_frame_error(db_to_ratio(snr_db), 201, "rician", db_to_ratio(k_db))
    check.share(int(lost.sum()), TRIALS, expected)


def rician_powers(k_db: float, seed: int) -> "np.ndarray[tuple[int], np.dtype[np.float64]]":
    """Powers of a direct wave and many weak ones, mean 1."""
    k, chance = db_to_ratio(k_db), np.random.default_rng(seed)
    weak = math.sqrt(1 / (1 + k) / 2) * chance.standard_normal((2, TRIALS))
    powers: np.ndarray[tuple[int], np.dtype[np.float64]] = (
        math.sqrt(k / (1 + k)) + weak[0]
    ) ** 2 + weak[1] ** 2
    return powers


@outside("Rayleigh outage at 10 dB margin", source=FACTS.at("4"), status=DERIVED_FROM_MEMORY)
def test_rayleigh_outage() -> None:
    check.near(rayleigh_outage(10.0), 0.09516, within=0.000005)


@outside("Rician outage, K = 6 dB, 10 dB margin", source=FACTS.at("4"), status=DERIVED_FROM_MEMORY)
def test_rician_outage() -> None:
    check.near(rician_outage(10.0, db_to_ratio(6)), 0.01646, within=0.000005)


@outside(
    "Rician outage against Marcum's Q as an integral over a Bessel function",
    source=f"{PROAKIS.key}; {LIBRARY.key}",
    status=SECOND,
)
@pytest.mark.parametrize("k_db", [-10, 0, 6, 12])
@pytest.mark.parametrize("margin_db", [3, 10, 20])
def test_rician_outage_is_marcums_q(k_db: float, margin_db: float) -> None:
    k = db_to_ratio(k_db)
    a, b = math.sqrt(2 * k), math.sqrt(2 * (1 + k) / db_to_ratio(margin_db))
    below = integrate.quad(
        lambda x: x * math.exp(-((x - a) ** 2) / 2) * special.ive(0, a * x), 0, b, epsabs=1e-14
    )[0]

    check.near(rician_outage(db_to_ratio(margin_db), k), below, within=1e-10)


@outside(
    "Rician outage by simulation of its waves",
    source=FACTS.at("4"),
    status=DERIVED,
    chance=CHANCE_OF_FAILURE,
)
@pytest.mark.parametrize(("k_db", "margin_db"), [(6, 10), (0, 10), (6, 3)])
def test_rician_outage_by_simulation(k_db: float, margin_db: float) -> None:
    below = int((rician_powers(k_db, seed=5) < 1 / db_to_ratio(margin_db)).sum())

    check.share(below, TRIALS, rician_outage(db_to_ratio(margin_db), db_to_ratio(k_db)))


@outside("Rician outage against scipy's Rice distribution", source=LIBRARY.key, status=SECOND)
@pytest.mark.parametrize("k_db", [0, 6, 20])
def test_rician_outage_is_that_of_the_library(k_db: float) -> None:
    k = db_to_ratio(k_db)
    amplitude = stats.rice(math.sqrt(2 * k), scale=math.sqrt(1 / (2 * (1 + k))))

    check.near(rician_outage(4.0, k), float(amplitude.cdf(0.5)), within=1e-12)
