"""Crystals that warm up, against the published curve of the cut and the integral of a settling.

Source: R. Bechmann, Proc. IRE 44, 1956 (from memory): an AT cut follows a cubic about 25 degrees,
a₃ near 1.1e-10 a cubic degree; its turning points are worked out from that.
"""

import math

import numpy as np
import pytest

from radiosim.radio.crystal import at_cut_ppm, turnover_c
from tests.reference.outside import DERIVED, MEMORY, check, outside
from tests.reference.runs import UP_AT_ONCE, of_stream, run
from tests.reference.sources import BECHMANN, FACTS


@outside(
    "frequency of the flattest AT cut at 85 °C", source=BECHMANN.key, status=MEMORY, unit="ppm"
)
def test_the_flattest_cut_is_a_pure_cubic() -> None:
    check.near(at_cut_ppm(85.0, 0.0), 110e-12 * 60**3 * 1e6, within=0.5)


@outside(
    "frequency at the turning points of an AT cut", source=FACTS.at("5"), status=DERIVED, unit="ppm"
)
@pytest.mark.parametrize("place", [0, 1])
def test_the_curve_turns_where_its_slope_is_nought(place: int) -> None:
    at_c = turnover_c(-0.2)[place]
    grid = np.linspace(at_c - 10, at_c + 10, 20_001)
    curve = [at_cut_ppm(float(c), -0.2) for c in grid]
    found = max(curve) if place == 0 else min(curve)

    check.near(found, (3.29, -3.29)[place], within=0.005)


@outside(
    "how late a clock is that settles by 30 ppm in 60 s, A τ (1 − e^(−t/τ))",
    source=FACTS.at("5"),
    status=DERIVED,
    unit="us",
)
def test_samples_come_later_as_the_clock_settles() -> None:
    trace = run(f"""
duration_s = 301
radio.profile = "gfsk-1M"
{UP_AT_ONCE}
air.loss = 0
transmitter.drive.boot_s = 0
transmitter.drive.period_ms = 20
transmitter.drive.offset_ms = 0
transmitter.drive.payload_bytes = 6
transmitter.drive.clock_ppm = 0
transmitter.drive.drift = {{ settle_ppm = 30, settle_s = 60 }}
""")
    sampled_ns = of_stream(trace.frames, 0)["sampled_ns"]
    late_us = float(sampled_ns[15_000] - sampled_ns[0] - 300 * 10**9) / 1000

    check.near(late_us, 30e-6 * 60e6 * (1 - math.exp(-5)), within=0.001)
