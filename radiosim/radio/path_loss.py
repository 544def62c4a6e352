import math

from radiosim.marks import rule

FREE_SPACE, TWO_RAY, LOG_DISTANCE = range(3)
NEAREST_M = 0.1
LIGHT_M_S = 299792458.0


@rule
def free_space_db(distance_m: float, frequency_mhz: float) -> float:
    return 32.4478 + 20.0 * math.log10(frequency_mhz) + 20.0 * math.log10(distance_m / 1000.0)


@rule
def two_ray_db(
    distance_m: float, frequency_mhz: float, height_1_m: float, height_2_m: float
) -> float:
    lam = 299.792458 / frequency_mhz
    s = math.sin(2.0 * math.pi * height_1_m * height_2_m / (lam * distance_m))
    return free_space_db(distance_m, frequency_mhz) - 10.0 * math.log10(max(4.0 * s * s, 0.001))


@rule
def path_loss_db(
    kind: int,
    distance_m: float,
    frequency_mhz: float,
    height_1_m: float,
    height_2_m: float,
    exponent: float,
) -> float:
    distance_m = max(distance_m, NEAREST_M)
    if kind == FREE_SPACE:
        return free_space_db(distance_m, frequency_mhz)
    if kind == TWO_RAY:
        return two_ray_db(distance_m, frequency_mhz, height_1_m, height_2_m)
    return free_space_db(min(distance_m, 1.0), frequency_mhz) + 10.0 * exponent * math.log10(
        max(distance_m, 1.0)
    )
