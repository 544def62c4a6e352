"""What frames keep beside bursts, against queues and collisions of the books."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from radiosim.radio.overlap import kept_beside_grid, kept_beside_random
from tests.examples import examples

LENGTHS = st.integers(10_000, 10_000_000)
STRONG, FAINT = 1.0, 1e-12
"""Hazards a nanosecond: of one that spoils whatever it touches, and of one that hardly does."""


@given(LENGTHS, LENGTHS, st.floats(0.01, 0.9))
@examples(100)
def test_bursts_that_spoil_all_they_touch_leave_what_pure_aloha_leaves(
    frame_ns: int, burst_ns: int, duty: float
) -> None:
    """e^(−λ(a + b)) (Abramson 1970, facts 5)."""
    rate = -math.log1p(-duty) / burst_ns

    kept = kept_beside_random(frame_ns, burst_ns, rate, STRONG)

    assert kept == pytest.approx(math.exp(-rate * (frame_ns + burst_ns)), rel=1e-3)


@given(LENGTHS, LENGTHS, st.floats(0.01, 0.9))
@examples(100)
def test_faint_bursts_take_by_the_time_that_any_of_them_lasts(
    frame_ns: int, burst_ns: int, duty: float
) -> None:
    """M/D/∞ is busy for 1 − e^(−λb) of the time (Takács 1962, ch. 3; from memory): the duty."""
    rate = -math.log1p(-duty) / burst_ns

    lost = 1 - kept_beside_random(frame_ns, burst_ns, rate, FAINT)

    assert lost == pytest.approx(FAINT * frame_ns * duty, rel=0.02)


@given(LENGTHS, LENGTHS, LENGTHS, st.floats(1e-9, 1e-3))
@examples(100)
def test_a_grid_takes_what_a_count_over_its_spacing_says(
    frame_ns: int, burst_ns: int, gap_ns: int, hazard: float
) -> None:
    every_ns = burst_ns + gap_ns
    since = (np.arange(20_000) + 0.5) / 20_000 * every_ns

    def busy(until: NDArray[np.float64]) -> NDArray[np.float64]:
        whole, rest = np.divmod(until, every_ns)
        return whole * burst_ns + np.minimum(rest, burst_ns)

    counted = np.exp(-hazard * (busy(since + frame_ns) - busy(since))).mean()

    assert kept_beside_grid(frame_ns, burst_ns, every_ns, hazard) == pytest.approx(
        counted, abs=1e-4
    )


def test_a_grid_that_spoils_all_it_touches_takes_a_and_b_over_t() -> None:
    """Two of 329 µs every 20 ms: 0.03290 (facts 5)."""
    assert 1 - kept_beside_grid(329_000, 329_000, 20_000_000, STRONG) == pytest.approx(
        0.0329, abs=1e-6
    )
