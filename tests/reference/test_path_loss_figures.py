"""Path loss against printed formulas and worked values.

Sources: ITU-R P.525 (restated: 32.4 + 20 log₁₀ f/MHz + 20 log₁₀ d/km; handbooks 32.44 or 32.45);
two-ray and log-distance from textbooks; worked values of facts 3.
"""

import math

import pytest

from radiosim.radio.propagation import breakpoint_m, free_space_db, log_distance_db, two_ray_db
from tests.reference.outside import DERIVED, MEMORY, RESTATED, SEEN, check, outside
from tests.reference.sources import FACTS, P525, PROPAGATION


@outside("free space loss, constant as printed", source=P525.key, status=RESTATED, unit="dB")
@pytest.mark.parametrize(("mhz", "km"), [(1.0, 1.0), (2440.0, 0.01), (2400.0, 0.4), (2483.5, 2.0)])
def test_free_space_is_the_printed_formula(mhz: float, km: float) -> None:
    # Printed with one digit: 32.4. Handbooks have 32.44 and 32.45.
    printed_db = 32.4 + 20 * math.log10(mhz) + 20 * math.log10(km)

    check.near(free_space_db(1000 * km, mhz), printed_db, within=0.05)


@outside("free space loss at 2.44 GHz", source=FACTS.at("3"), status=DERIVED, unit="dB")
@pytest.mark.parametrize(("distance_m", "db"), [(10, 60.20), (100, 80.20)])
def test_free_space_at_two_distances(distance_m: float, db: float) -> None:
    check.near(free_space_db(distance_m, 2440), db, within=0.005)


@outside(
    "where two rays begin to fall for good, 4 h₁ h₂ / λ",
    source=f"{PROPAGATION.key}; {FACTS.at('3')}",
    status=SEEN,
    unit="m",
)
@pytest.mark.parametrize(
    ("height_1_m", "height_2_m", "metres"), [(1.5, 1.5, 73.25), (1.2, 0.1, 3.907)]
)
def test_breakpoints(height_1_m: float, height_2_m: float, metres: float) -> None:
    check.near(breakpoint_m(2440, height_1_m, height_2_m), metres, within=0.005)


@outside(
    "two-ray loss at 100 m, antennas at 1.5 m, 2.44 GHz",
    source=f"{PROPAGATION.key}; {FACTS.at('3')}",
    status=DERIVED,
    unit="dB",
)
def test_two_rays_at_a_hundred_metres() -> None:
    check.near(two_ray_db(100, 2440, 1.5, 1.5), 74.97, within=0.005)


@outside(
    "two-ray loss far off, 40 log₁₀ d − 20 log₁₀(h₁ h₂)",
    source=PROPAGATION.key,
    status=SEEN,
    unit="dB",
)
@pytest.mark.parametrize("distance_m", [200, 1000, 5000])
def test_two_rays_far_off(distance_m: float) -> None:
    far_db = 40 * math.log10(distance_m) - 20 * math.log10(1.2 * 0.1)

    check.near(two_ray_db(distance_m, 2440, 1.2, 0.1), far_db, within=0.01)


@outside(
    "two-ray loss against the sum of the two paths' fields",
    source=PROPAGATION.key,
    status=DERIVED,
    unit="dB",
)
@pytest.mark.parametrize("distance_m", [60, 73.25, 150, 400])
def test_two_rays_against_their_fields(distance_m: float) -> None:
    # Direct and reflected path exactly, the ground turning the wave round; heights 1.5 m.
    wave_m = 299_792_458 / 2.44e9
    direct_m, reflected_m = (math.hypot(distance_m, h) for h in (1.5 - 1.5, 1.5 + 1.5))
    angle = 2 * math.pi * (reflected_m - direct_m) / wave_m
    field = complex(1 / direct_m) - complex(math.cos(angle), math.sin(angle)) / reflected_m
    exact_db = -20 * math.log10(abs(field) * wave_m / (4 * math.pi))

    check.near(two_ray_db(distance_m, 2440, 1.5, 1.5), exact_db, within=0.05)


@outside(
    "log-distance loss beyond that at 1 m, 10 n log₁₀ d",
    source=PROPAGATION.key,
    status=MEMORY,
    unit="dB",
)
@pytest.mark.parametrize("exponent", [2.0, 2.7, 3.5, 6.0])
def test_log_distance_over_a_hundredfold(exponent: float) -> None:
    beyond_db = log_distance_db(100, 2440, exponent) - free_space_db(1, 2440)

    check.near(beyond_db, 20 * exponent, within=1e-9)
