"""`culvert-crawler` holds its requirements, and its three mishaps end as its comment says."""

import pytest

from radiosim.measure.summary import Summary
from tests.scenarios.shortened import summary_of, verdicts


def crawler() -> Summary:
    return summary_of("culvert-crawler", 2, "duration_s=240")


def test_the_crawler_holds_its_requirements() -> None:
    assert set(verdicts(crawler()).values()) == {True}


def test_the_crawlers_three_faults_are_not_called_nuisance() -> None:
    drive, head = (crawler().figures.stream[name].failsafe for name in ("drive", "head"))

    assert drive is not None
    assert head is not None
    assert (drive.trips_on_fault, drive.nuisance_trips) == (2, 0)
    assert (head.trips_on_fault, head.nuisance_trips) == (2, 0)


@pytest.mark.parametrize("output", ["left_track", "right_track"])
def test_a_silent_hand_controller_stops_the_tracks_within_the_bound(output: str) -> None:
    summary = crawler()
    reaction_ms = summary.figures.faults[2].outputs[output].reaction_ms
    bound_ms = summary.reaction["drive"].bound_ms[output]

    assert reaction_ms is not None
    assert bound_ms is not None
    # A frame and a period may pass between the last frame that arrived and the switch.
    assert 250 - 22 < reaction_ms <= bound_ms


def test_the_tracks_come_alive_only_once_the_throttle_is_let_go() -> None:
    # Switched on again at 228 s, 2 s before the throttle is at neutral: 230 s is 10 s times 23.
    recovered_ms = crawler().figures.faults[2].outputs["left_track"].recovered_ms

    assert recovered_ms is not None
    assert 2000 < recovered_ms < 2060


def test_the_goggles_calibrate_before_the_camera_follows_again() -> None:
    recovered_ms = crawler().figures.faults[0].outputs["pan"].recovered_ms

    assert recovered_ms is not None
    # 2 s by a clock of +-0.5 %, the first sample within 23 ms, a pulse within 22.2.
    assert 1990 < recovered_ms < 2010 + 23 + 23 + 15


def test_the_camera_is_back_soon_after_a_brownout_and_the_tracks_wait_for_neutral() -> None:
    outputs = crawler().figures.faults[1].outputs
    pan_ms, track_ms = outputs["pan"].recovered_ms, outputs["left_track"].recovered_ms

    assert pan_ms is not None
    assert track_ms is not None
    assert 600 < pan_ms < 670
    # Supply back at 152.8 s, throttle at neutral from 155 s.
    assert 2200 < track_ms < 2260
