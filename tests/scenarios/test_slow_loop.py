"""`slow-loop` lags, fills its FIFO and leaves frames unacknowledged."""

import pytest

from radiosim.measure.summary import Summary
from tests.scenarios.shortened import summary_of, verdicts

AT_ONCE = ("receiver.boot_s=0", "transmitter.drive.boot_s=0", "transmitter.head.boot_s=0")


def slow_loop(*overrides: str) -> Summary:
    return summary_of("slow-loop", 2, "duration_s=20", *AT_ONCE, *overrides)


def test_a_slow_loop_fails_its_requirements() -> None:
    assert set(verdicts(slow_loop()).values()) == {False}


def test_a_slow_loop_reads_one_frame_a_pass_and_no_more() -> None:
    streams = slow_loop().figures.stream.values()

    # A pass takes 30.5 ms and some 16 us of reading; two starts of 20 s, of
    # which 0.1 s is power-on reset.
    assert sum(figures.read for figures in streams) == pytest.approx(2 * 19.9 / 0.030516, abs=4)


def test_values_are_three_passes_late_though_the_air_loses_nothing() -> None:
    for figures in slow_loop().figures.stream.values():
        assert figures.lost_chance == 0
        assert figures.latency_ms.median is not None
        assert 2 * 30.5 < figures.latency_ms.median < 3 * 30.6


def test_a_full_fifo_leaves_frames_unacknowledged_and_transmitters_retrying() -> None:
    drive = slow_loop().figures.stream["drive"]

    assert drive.fifo_dropped > drive.read
    assert drive.retries_used_up > drive.sampled / 2
    assert drive.attempts_per_frame is not None
    assert drive.attempts_per_frame > 2


@pytest.mark.parametrize("cure", ["receiver.delay_ms=0", "receiver.read=all"])
def test_a_slow_loop_is_cured(cure: str) -> None:
    assert set(verdicts(slow_loop(cure)).values()) == {True}


def test_reading_the_newest_frame_makes_a_slow_loop_prompt_but_no_faster() -> None:
    cured = slow_loop("receiver.read=newest")

    assert verdicts(cured) == {
        "output.steering.latency_ms.p95": True,
        "stream.drive.delivery_ratio": False,
    }
    # One frame of each stream a pass of 30.5 ms, and some 50 us of reading three.
    for stream in cured.figures.stream.values():
        assert stream.update_rate_hz == pytest.approx(32.7, abs=0.3)
