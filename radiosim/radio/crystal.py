"""Frequency of quartz over temperature.

Source: R. Bechmann, "Frequency-temperature-angle characteristics of AT-type resonators made of
natural and synthetic quartz", Proc. IRE 44, 1956 (from memory): the frequency of an AT cut follows
a cubic about its inflection near 25 degrees, a₁ (T − 25) + a₃ (T − 25)³, with a₃ near
1.1e-10 a cubic degree whatever the angle of the cut, and a₁ set by that angle.
"""

import math

INFLECTION_C = 25.0
CUBIC_PPM = 1.095e-4
"""a₃, ppm a cubic degree."""


def at_cut_ppm(celsius: float, slope_ppm: float) -> float:
    """How much higher an AT cut's frequency is than at 25 degrees, ppm; `slope_ppm`: a₁."""
    above = celsius - INFLECTION_C
    return slope_ppm * above + CUBIC_PPM * above**3


def turnover_c(slope_ppm: float) -> tuple[float, float]:
    """Where the frequency is at its highest and lowest, degrees; for slopes below 0."""
    reach = math.sqrt(-slope_ppm / (3 * CUBIC_PPM))
    return INFLECTION_C - reach, INFLECTION_C + reach


def warming_ppm(from_c: float, to_c: float, slope_ppm: float) -> tuple[float, float, float, float]:
    """Coefficients of 1, u, u², u³ in `at_cut_ppm` of a crystal that warms up.

    T = to + (from − to) u with u = e^(−t/τ): a cubic of u (worked out here).
    """
    end, step = to_c - INFLECTION_C, from_c - to_c
    return (
        slope_ppm * end + CUBIC_PPM * end**3,
        slope_ppm * step + 3 * CUBIC_PPM * end**2 * step,
        3 * CUBIC_PPM * end * step**2,
        CUBIC_PPM * step**3,
    )
