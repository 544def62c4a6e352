"""Spells of collision of two nearly equal clocks against closed forms.

Source: derived (D) from two periodic senders; the spacing is the textbook beat period. Periods T1
and T2 meet every T1 T2/|T1 - T2| and stay in collision for (a + b)/|T1 - T2| frames. Nothing is
acknowledged, no jitter, clocks at +60 and -60 ppm (PS front page: +-60 ppm, S). Frames are counted
to the one that a whole number may be off; times follow from that.
"""

import numpy as np
import pytest

from radiosim.trace import COLLISION
from tests.reference.runs import UP_AT_ONCE, of_stream, run


def spells_of(
    profile: str,
    acknowledge: str,
    payload_bytes: int,
    periods_ms: tuple[float, float],
    span_s: float,
) -> list[tuple[float, float, int]]:
    """Start (s), length (s) and frames of each spell that the first sender goes through."""
    trace = run(f"""
duration_s = {span_s}
radio.profile = "{profile}"
{UP_AT_ONCE}
air.loss = 0
receiver.read = "all"
[transmitter.slow]
period_ms = {periods_ms[0]}
offset_ms = 1
payload_bytes = {payload_bytes}
clock_ppm = 60
acknowledge = {acknowledge}
[transmitter.fast]
period_ms = {periods_ms[1]}
offset_ms = 4
payload_bytes = {payload_bytes}
clock_ppm = -60
acknowledge = {acknowledge}
""")
    attempts = of_stream(trace.attempts, 0)
    hit = np.flatnonzero(attempts["fate"] == COLLISION)
    spells = np.split(hit, np.flatnonzero(np.diff(hit) > 1) + 1) if len(hit) else []
    at_s = attempts["start_ns"] / 1e9
    return [
        (float(at_s[run[0]]), float(at_s[run[-1]] - at_s[run[0]] + periods_ms[0] / 1e3), len(run))
        for run in spells
    ]


@pytest.mark.parametrize(
    ("profile", "acknowledge", "frames", "seconds"),
    [
        ("gfsk-2M", '"flag"', 137.1, 2.742),  # the worked value: a + b = 329 us
        ("gfsk-1M", "false", 640 / 2.4, 640 / 2.4 * 0.02),
        ("gfsk-250k", "false", 2560 / 2.4, 2560 / 2.4 * 0.02),
    ],
)
def test_equal_periods_collide_for_a_plus_b_over_the_difference(
    profile: str, acknowledge: str, frames: float, seconds: float
) -> None:
    spells = spells_of(profile, acknowledge, 32, (20, 20), 60)
    _, length_s, length = spells[0]

    assert length == pytest.approx(frames, abs=1)
    assert length_s == pytest.approx(seconds, abs=0.021)


def test_spells_come_every_beat_period() -> None:
    # 0.02 s x 0.02 s / 2.4 us = 166.7 s; each start is right to one frame.
    spells = spells_of("gfsk-2M", '"flag"', 32, (20, 20), 380)
    starts_s = [start_s for start_s, _, _ in spells]

    assert len(spells) == 3
    assert np.diff(starts_s) == pytest.approx(0.02**2 / 2.4e-6, abs=0.021)


@pytest.mark.parametrize("periods_ms", [(20, 10), (40, 20)])
def test_a_whole_multiple_meets_as_long_as_equal_periods_do(
    periods_ms: tuple[float, float],
) -> None:
    # Both slip by 120 ppm of the time: 329 us take 2.742 s, to one frame of the slower sender.
    _, length_s, _ = spells_of("gfsk-2M", '"flag"', 32, periods_ms, 40)[0]

    assert length_s == pytest.approx(2.742, abs=periods_ms[0] / 1e3 + 0.001)


@pytest.mark.parametrize("periods_ms", [(20, 17), (20, 19), (17, 20), (19, 20)])
def test_periods_far_from_a_multiple_lose_single_frames_only(
    periods_ms: tuple[float, float],
) -> None:
    spells = spells_of("gfsk-1M", "false", 32, periods_ms, 120)

    assert len(spells) > 100
    assert max(frames for _, _, frames in spells) == 1
