"""How much weaker a signal is at the other end, by distance.

Frequencies in MHz, distances and heights in m, losses in dB between isotropic antennas.
"""

import math

from radiosim.marks import rule

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
