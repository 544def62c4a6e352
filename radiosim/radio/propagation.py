"""Propagation: path loss by distance, fading in time, and what its spread does to frames.

Frequencies in MHz, distances and heights in m, losses in dB between isotropic antennas.

Source of the method: S. O. Rice, Bell System Technical Journal 23 (1944), 24 (1945), section 1.7
(amplitudes drawn, so that the level is complex Gaussian in the ensemble for any number of waves);
R. H. Clarke, BSTJ 47 (1968): waves from all round give the autocorrelation J₀(2π f_D τ). Both from
memory; tests/reference checks distribution and autocorrelation.

A level is constant over one frame (block fading). Its power is, in units of the mean, exponential
(Rayleigh: many waves, none direct) or that of a direct wave and many weak ones (Rician; K is the
power of the direct one over that of all others, a ratio). Shadowing multiplies it by a log-normal
share whose median is 1: the mean in dB stays. Sources: R. H. Clarke, BSTJ 47, 1968; J. G. Proakis,
"Digital Communications" (both from memory).
"""

import math
from functools import lru_cache
from typing import Literal

import numpy as np
import numpy.typing as npt

from radiosim.marks import rule
from radiosim.units import db_to_ratio

FREE_SPACE, TWO_RAY, LOG_DISTANCE = range(3)
LIGHT_M_S = 299_792_458.0
NEAREST_M = 0.1
"""No antenna comes nearer than that: the formulas hold in the far field, beyond 0.02 to 0.12 m at
these frequencies (common practice, no source)."""
REFERENCE_M = 1.0
"""Where log-distance begins (common practice, no source)."""
FLOOR_OF_NULLS = 1e-3
"""Two rays never cancel by more than 30 dB: the ground scatters and takes its share (common
practice, no source)."""
_FREE_SPACE_DB = 32.447783
"""20 log₁₀(4π · 1 km · 1 MHz / c)."""


@rule
def free_space_db(distance_m: float, frequency_mhz: float) -> float:
    """Loss in free space, dB: 20 log₁₀(4π d f / c); distance > 0.

    Source: ITU-R P.525 (restated: 32.4 + 20 log₁₀ f/MHz + 20 log₁₀ d/km; the exact constant here).
    """
    return _FREE_SPACE_DB + 20.0 * math.log10(frequency_mhz * distance_m * 0.001)


@rule
def two_ray_db(
    distance_m: float, frequency_mhz: float, height_1_m: float, height_2_m: float
) -> float:
    """Loss over flat ground that reflects all, dB: P = P_free · 4 sin²(2π h₁ h₂ / (λ d)).

    Far off 40 log₁₀ d − 20 log₁₀(h₁ h₂). Up to the breakpoint nulls are no deeper than 30 dB below
    free space. Not for heights of the order of the distance. Source: textbooks (seen); the bound
    is common practice.
    """
    turn = 2.0 * math.pi * height_1_m * height_2_m * frequency_mhz * 1e6 / LIGHT_M_S
    wave = math.sin(turn / distance_m)
    gain = 4.0 * wave * wave
    # Beyond the last peak the wave falls for good: that is no null.
    if gain < FLOOR_OF_NULLS and 2.0 * turn > math.pi * distance_m:
        gain = FLOOR_OF_NULLS
    return free_space_db(distance_m, frequency_mhz) - 10.0 * math.log10(gain)


@rule
def log_distance_db(distance_m: float, frequency_mhz: float, exponent: float) -> float:
    """Loss among things in the way, dB: that of free space at 1 m + 10 n log₁₀(d / 1 m).

    Within 1 m that of free space. Source: textbooks (from memory).
    """
    if distance_m <= REFERENCE_M:
        return free_space_db(distance_m, frequency_mhz)
    beyond_db = 10.0 * exponent * math.log10(distance_m / REFERENCE_M)
    return free_space_db(REFERENCE_M, frequency_mhz) + beyond_db


@rule
def path_loss_db(
    kind: int,
    distance_m: float,
    frequency_mhz: float,
    height_1_m: float,
    height_2_m: float,
    exponent: float,
) -> float:
    """Loss by the formula of that kind, dB; nearer than 0.1 m as at 0.1 m."""
    distance_m = max(distance_m, NEAREST_M)
    if kind == TWO_RAY:
        return two_ray_db(distance_m, frequency_mhz, height_1_m, height_2_m)
    if kind == LOG_DISTANCE:
        return log_distance_db(distance_m, frequency_mhz, exponent)
    return free_space_db(distance_m, frequency_mhz)


def breakpoint_m(frequency_mhz: float, height_1_m: float, height_2_m: float) -> float:
    """Where the last peak of two rays lies, m: 4 h₁ h₂ / λ; beyond it the level falls for good.

    Source: textbooks (seen).
    """
    return 4.0 * height_1_m * height_2_m * frequency_mhz * 1e6 / LIGHT_M_S


WAVES = 8
"""Waves from all round; the steady one of a Rician level comes on top."""
TURN_32 = 1 << 32
_QUARTER = 1 << 30
_MASK = 0xFFFFFFFF
_TWO_PI = 6.283185307179586
_TO_ONE = 1.0 / 4294967296.0
# The series of the sine, by odd powers of the angle.
_C3, _C5, _C7 = -1.0 / 6.0, 1.0 / 120.0, -1.0 / 5040.0
_C9, _C11 = 1.0 / 362880.0, -1.0 / 39916800.0


@rule
def cosine_of(turns_32: int) -> float:
    """Cosine of an angle in 2⁻³² turns, within 6e-8.

    A series of its own: several times as fast as the library's, and the same to the last bit on
    every machine.
    """
    x = _TWO_PI * (abs(turns_32 * _TO_ONE - 0.5) - 0.25)
    y = x * x
    return x * (1.0 + y * (_C3 + y * (_C5 + y * (_C7 + y * (_C9 + y * _C11)))))


@rule
def sine_of(turns_32: int) -> float:
    """Sine of an angle in 2⁻³² turns."""
    return cosine_of((turns_32 - _QUARTER) & _MASK)


@rule
def turned(turns_64: int, phase_64: int, now: int) -> int:
    """Where a wave stands at an instant, 2⁻³² turns.

    `turns_64`: turns a nanosecond in 2⁻⁶⁴. The product wraps in compiled code; the bits that are
    kept are the same.
    """
    return ((turns_64 * now + phase_64) >> 32) & _MASK


Fading = Literal["none", "rayleigh", "rician"]
Floats = npt.NDArray[np.float64]

_STEP = 0.04
"""Of the averages, in the logarithm of a power. Sums over smooth bells converge faster than any
power of it: halving it moves nothing by 1e-9."""
_LOWEST, _HIGHEST = math.log(1e-5), math.log(150.0)
"""Ratios below and above which a frame of 8 to 100,000 bits is surely lost or surely whole."""
_SPREADS = 8.0
"""Standard deviations to which shadowing is followed."""
_DB = math.log(10.0) / 10.0
_WIDEST_SHIFT_DB = 300.0
_HALVINGS = 60
_ROUNDING = 1e-9


def doppler_hz(speed_m_s: float, frequency_mhz: float) -> float:
    """Largest Doppler shift at a speed, Hz: v f / c (Clarke)."""
    return speed_m_s * frequency_mhz * 1e6 / LIGHT_M_S


def rayleigh_outage(margin: float) -> float:
    """Chance of a level more than a power ratio below its mean: 1 − e^(−1/F) (Proakis)."""
    return -math.expm1(-1.0 / margin)


def rician_outage(margin: float, rician_k: float) -> float:
    """Chance of a level more than a power ratio below its mean.

    1 − Q₁(√(2K), √(2(1+K)/F)) with Marcum's Q (Proakis).
    """
    return float(_share_below(np.array([1.0 / margin]), "rician", rician_k)[0])


def mean_frame_error(
    mean_snr: float, bits: int, fading: Fading, rician_k: float = 0.0, shadowing_db: float = 0.0
) -> float:
    """Share of frames lost where the level varies from frame to frame, within 1e-6.

    Parameters
    ----------
    mean_snr : float
        Mean signal to noise ratio before shadowing, > 0.
    bits : int
        Length of a frame, 8 to 100,000.
    fading : str
        `none`, `rayleigh` or `rician`.
    rician_k : float
        With `rician`: direct over all other power, a ratio up to 10,000.
    shadowing_db : float
        Standard deviation of the mean level, dB; 0: none.

    Notes
    -----
    The frame error is averaged, not the bit error: a fade takes a frame, not single bits of many.
    By parts, ∫ FER(Γx) dF(x) = −∫ FER'(s) F(s/Γ) ds, whose first factor is a bell in ln s that
    stays where it is for every Γ. Derived here from Proakis's formulas.
    """
    if fading == "none":
        shares, shifts = _shadowing(shadowing_db, _STEP)
        return float(np.dot(shares, _frame_errors(mean_snr * np.exp(shifts), bits)))
    # No wider than the power's own spread about a strong direct wave.
    step = _STEP if rician_k <= _STEP**-2 else 1 / math.sqrt(rician_k)
    needed, shares = _needed(bits, shadowing_db, step)
    return float(np.dot(shares, _share_below(needed / mean_snr, fading, rician_k)))


def anchor_shift_db(
    mean_snr_db: float,
    bits: int,
    fading: Fading,
    rician_k: float,
    shadowing_db: float,
    delivery: float,
) -> float:
    """What to add to a mean level so that this share of frames arrives, dB, to a millionth.

    `mean_snr_db`: what formulas say at the place of the measurement. ValueError unless delivery is
    between 0 and 1 and some level within 300 dB gives it.
    """
    if not 0.0 < delivery < 1.0:
        raise ValueError(f"delivery: must be between 0 and 1, got {delivery!r}")

    def lost(shift_db: float) -> float:
        mean_snr = db_to_ratio(mean_snr_db + shift_db)
        return mean_frame_error(mean_snr, bits, fading, rician_k, shadowing_db)

    low, high = -mean_snr_db - _WIDEST_SHIFT_DB, -mean_snr_db + _WIDEST_SHIFT_DB
    if not lost(low) + _ROUNDING >= 1 - delivery >= lost(high):
        raise ValueError(f"delivery: no level gives frames of {bits} bits {delivery!r}")
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        low, high = (middle, high) if lost(middle) > 1 - delivery else (low, middle)
    # Machines differ in the last digits of the average.
    return round((low + high) / 2, 6)


def _frame_errors(snr: Floats, bits: int) -> Floats:
    """Frame errors at each ratio: ½ e^(−γ/2) in each bit (see bit_errors.py)."""
    errors: Floats = -np.expm1(bits * np.log1p(-0.5 * np.exp(-0.5 * snr)))
    return errors


def _share_below(power: Floats, fading: Fading, rician_k: float) -> Floats:
    """Chance that the power is below each of some values, in units of its mean."""
    from scipy.special import chndtr  # noqa: PLC0415 - scipy loads slowly and is seldom needed

    if fading == "rayleigh":
        return -np.expm1(-power)
    below: Floats = chndtr(2 * (1 + rician_k) * power, 2, 2 * rician_k)
    return below


def _shadowing(shadowing_db: float, step: float) -> tuple[Floats, Floats]:
    """Shares and logarithms of the powers that shadowing multiplies with."""
    spread = shadowing_db * _DB
    reach = math.ceil(_SPREADS * spread / step)
    shifts = np.linspace(-step * reach, step * reach, 2 * reach + 1)
    if spread == 0.0:
        return np.ones(1), shifts
    shares = np.exp(-0.5 * np.square(shifts / spread))
    return shares / np.sum(shares), shifts


@lru_cache(maxsize=64)
def _needed(bits: int, shadowing_db: float, step: float) -> tuple[Floats, Floats]:
    """Ratios that frames need to arrive, and the share of frames that needs each."""
    logs = np.arange(_LOWEST, _HIGHEST, step)
    snr = np.exp(logs)
    errors = 0.5 * np.exp(-0.5 * snr)
    bell = step * snr * bits * (errors / 2) * np.exp((bits - 1) * np.log1p(-errors))
    shares, shifts = _shadowing(shadowing_db, step)
    start = _LOWEST + shifts[0]
    needed = np.exp(start + step * np.arange(len(snr) + len(shares) - 1))
    return needed, np.convolve(bell, shares)
