"""`twin-clocks` starves for seconds behind a fine average."""

import pytest

from tests.scenarios.shortened import longest_gap_of, summary_of, verdicts

MEET_EARLY = (
    "duration_s=166.7",
    "air.loss=0",
    "transmitter.drive.clock_ppm=60",
    "transmitter.head.clock_ppm=-60",
    "transmitter.drive.offset_ms=10",
    "transmitter.head.offset_ms=11",
)
"""One beat of 20 ms/120 ppm = 166.7 s; 1 ms between the schedules closes at 120 us a second."""


def test_twin_clocks_starve_for_seconds_behind_a_fine_average() -> None:
    drive = summary_of("twin-clocks", 1, *MEET_EARLY).figures.stream["drive"]

    # The burst is (a + b)/|T1 - T2| = 320 us/2.4 us = 133.3 frames (drift of two periodic
    # transmitters, derived), 1.6 % of a beat; there is one period more between the reads on either
    # side.
    assert drive.lost_collision == pytest.approx(133.3, abs=1)
    assert longest_gap_of(drive) == pytest.approx(133.3 * 20 + 20, abs=21)
    # The receiver's radio is not up for the first 0.1 s: five frames, 0.06 %.
    assert drive.delivery_ratio == pytest.approx(1 - 0.016 - 0.0006, abs=0.0003)


def test_one_spell_of_twin_clocks_is_one_nuisance_trip() -> None:
    failsafe = summary_of("twin-clocks", 1, *MEET_EARLY).figures.stream["drive"].failsafe

    assert failsafe is not None
    assert (failsafe.trips_on_fault, failsafe.nuisance_trips) == (0, 1)


def test_twin_clocks_fail_on_the_hole_and_not_on_the_average() -> None:
    assert verdicts(summary_of("twin-clocks", 1, *MEET_EARLY)) == {
        "stream.drive.gap_ms.max": False,
        # One beat is too few to say more.
        "stream.drive.delivery_ratio": None,
    }


def test_another_period_cures_twin_clocks() -> None:
    cured = summary_of("twin-clocks", 1, *MEET_EARLY, "transmitter.head.period_ms=23")

    assert longest_gap_of(cured.figures.stream["drive"]) < 60
