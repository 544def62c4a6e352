"""`still-stick` takes good frames for duplicates (rule D3)."""

import pytest

from radiosim.measure.summary import Summary
from tests.scenarios.shortened import summary_of

WITH_COUNTER = "transmitter.drive.signals.spare.kind=counter"


def still_stick(*overrides: str) -> Summary:
    return summary_of("still-stick", 10, "duration_s=200", *overrides)


def test_a_still_stick_without_retries_has_duplicates_all_the_same() -> None:
    drive = still_stick().figures.stream["drive"]

    # One frame lost three times in a row between two that got through: q p^3 q of 40,000 frames,
    # 32.4; 4 standard deviations of a Poisson count leave 6 in 100,000 seeds outside.
    assert drive.attempts == drive.sent
    assert drive.duplicates == pytest.approx(32.4, abs=4 * 32.4**0.5)


def test_every_duplicate_of_a_still_stick_is_a_frame_that_a_counter_would_have_delivered() -> None:
    trapped, counted = (
        s.figures.stream["drive"] for s in (still_stick(), still_stick(WITH_COUNTER))
    )

    assert counted.duplicates == 0
    assert counted.read == trapped.read + trapped.duplicates


def test_most_trips_of_a_still_stick_go_with_a_counter() -> None:
    trapped, counted = (
        summary.figures.stream["drive"].failsafe
        for summary in (still_stick(), still_stick(WITH_COUNTER))
    )

    assert trapped is not None
    assert counted is not None
    assert trapped.trips_on_fault == counted.trips_on_fault == 0
    assert trapped.nuisance_trips > 3 * counted.nuisance_trips


def test_the_hand_controller_with_a_still_stick_is_content() -> None:
    drive = still_stick().figures.stream["drive"]

    # A duplicate is acknowledged like any frame: what the transmitter misses is what the air took.
    assert drive.acknowledged == drive.received_new + drive.duplicates - drive.acknowledgements_lost
