"""From signal to noise to bit errors, and to what is left of a frame.

Ratios are linear; a signal to noise ratio is that of one bit's energy to the noise density, which
is the ratio of powers in a bandwidth equal to the bit rate.
"""

import math

from radiosim.marks import rule
from radiosim.units import dbm_to_mw

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
