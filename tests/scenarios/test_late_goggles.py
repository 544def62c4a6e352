"""`late-goggles` loses the camera for three seconds and nothing else."""

from radiosim.measure.summary import Summary
from tests.scenarios.shortened import longest_gap_of, summary_of, the_only_fault, verdicts


def late_goggles(*overrides: str) -> Summary:
    return summary_of("late-goggles", 3, "duration_s=12", "fault.0.at_s=6", *overrides)


def test_goggles_that_calibrate_are_gone_for_three_seconds() -> None:
    head = late_goggles().figures.stream["head"]

    assert 3000 <= longest_gap_of(head) < 3040
    assert head.failsafe is not None
    assert (head.failsafe.trips_on_fault, head.failsafe.nuisance_trips) == (3, 0)


def test_the_camera_looks_ahead_after_the_timeout_and_follows_after_the_calibration() -> None:
    summary = late_goggles()
    fault = the_only_fault(summary)

    assert fault.reaction_ms is not None
    assert fault.recovered_ms is not None
    assert (
        400 - 16
        < fault.reaction_ms
        <= max(filter(None, summary.reaction["head"].bound_ms.values()))
    )
    assert 3000 < fault.recovered_ms < 3060


def test_late_goggles_leave_the_drive_stream_alone() -> None:
    late, never = late_goggles(), late_goggles("fault=[]")

    assert longest_gap_of(late.figures.stream["drive"]) < 200
    assert late.figures.stream["drive"].sampled == never.figures.stream["drive"].sampled
    assert verdicts(late) == {"stream.head.gap_ms.max": False, "stream.drive.gap_ms.max": True}


def test_a_calibration_kept_in_memory_cures_late_goggles() -> None:
    cured = late_goggles("transmitter.head.boot_s=0.2").figures.stream["head"]

    assert longest_gap_of(cured) < 300
    assert cured.failsafe is not None
    assert cured.failsafe.trips_on_fault == 0
