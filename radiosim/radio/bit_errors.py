import math

from radiosim.marks import rule

SNR_AT_SENSITIVITY = 2 * math.log(500)


@rule
def hazard_per_bit(snr: float) -> float:
    return -math.log1p(-0.5 * math.exp(-0.5 * snr))


def noise_mw(sensitivity_dbm: float) -> float:
    return 10 ** (sensitivity_dbm / 10) / SNR_AT_SENSITIVITY
