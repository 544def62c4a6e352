"""The half-wave dipole against what textbooks print of it.

Source: C. A. Balanis, "Antenna Theory", chapter 4 (from memory): F(θ) = cos(π/2 · cos θ) / sin θ,
directivity 1.64 or 2.15 dBi, half-power beam width 78 degrees.
"""

import math

import numpy as np

from radiosim.radio.antenna import DIPOLE_DBI, NAMED, dipole_field, gain_db
from tests.reference.outside import MEMORY, check, outside
from tests.reference.sources import BALANIS

DIPOLE = NAMED["half_wave_dipole"]


@outside(
    "gain of a half-wave dipole over its mean all round the sphere",
    source=BALANIS.key,
    status=MEMORY,
    unit="dBi",
)
def test_a_dipole_gains_over_the_sphere() -> None:
    theta = (np.arange(20_000) + 0.5) * math.pi / 20_000
    power = np.array([dipole_field(float(angle)) for angle in theta]) ** 2
    mean = float(np.sum(power * np.sin(theta))) / float(np.sum(np.sin(theta)))

    check.near(-10 * math.log10(mean), 2.15, within=0.01)


@outside("gain of the named pattern, straight ahead", source=BALANIS.key, status=MEMORY, unit="dBi")
def test_the_named_pattern_has_that_gain_ahead() -> None:
    check.near(gain_db(DIPOLE, 0), 2.15, within=1e-9)


@outside("half-power beam width of a half-wave dipole", source=BALANIS.key, status=MEMORY, unit="°")
def test_a_dipole_falls_to_half_its_power_within_78_degrees() -> None:
    low, high = 0.0, 90.0
    for _ in range(60):
        middle = (low + high) / 2
        is_above = gain_db(DIPOLE, middle) > DIPOLE_DBI - 10 * math.log10(2)
        low, high = (middle, high) if is_above else (low, middle)

    check.near(2 * low, 78.0, within=0.5)
