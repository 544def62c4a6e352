"""Starts added until an interval is narrow enough, and what that does to the intervals' trust."""

import math

import pytest

from radiosim.engine.plan import make_plan
from radiosim.scenario import Scenario, parse
from radiosim.study.sequential import Narrow, NarrowError, looks_of, narrow_of, until_narrow

QUICK = """
duration_s = 0.5
# All units are up at once: what is missed while they boot is not what is counted here.
radio = { profile = "gfsk-1M", settle_us = 0, crystal_start_us = 0, power_on_reset_ms = 0 }
receiver.read = "all"
output.none = { stream = "drive", field = "value", kind = "pin" }
"""
INDEPENDENT = parse(
    QUICK
    + """
air.loss = 0.2
transmitter.drive = { period_ms = 20, payload_bytes = 12, acknowledge = false, clock_ppm = 0 }
"""
)
DRIFTING = parse(
    QUICK
    + """
air.loss = 0
transmitter.drive = { period_ms = 20, payload_bytes = 12, acknowledge = false, clock_ppm = 10 }
transmitter.look = { period_ms = 20, payload_bytes = 12, acknowledge = false, clock_ppm = -10 }
"""
)
STUDIES = 1_000
FIVE_ERRORS = 5 * math.sqrt(0.05 * 0.95 / STUDIES)
"""Chance that a share of 95 % shows less by that much: 3e-7."""


def test_looks_double_and_end_with_the_budget() -> None:
    assert looks_of(64) == (8, 16, 32, 64)
    assert looks_of(50) == (8, 16, 32, 50)
    assert looks_of(4) == (4,)


def test_it_stops_as_soon_as_it_is_narrow_enough_and_at_the_budget_if_never() -> None:
    wide = until_narrow(INDEPENDENT, Narrow(figure=FIGURE, half_width=0.2), 64)
    narrower = until_narrow(INDEPENDENT, Narrow(figure=FIGURE, half_width=0.05), 64)
    never = until_narrow(INDEPENDENT, Narrow(figure=FIGURE, half_width=1e-6), 20)

    assert (len(wide.tallies), wide.is_narrow) == (8, True)
    assert 8 < len(narrower.tallies) <= 64
    assert narrower.is_narrow
    assert (len(never.tallies), never.is_narrow) == (20, False)


def test_what_comes_out_depends_on_the_scene_and_the_question_alone() -> None:
    asked = Narrow(figure=FIGURE, half_width=0.05)
    one, again = (until_narrow(INDEPENDENT, asked, 64) for _ in range(2))

    assert one.interval == again.interval
    assert [it.start for it in one.tallies] == list(range(len(again.tallies)))


@pytest.mark.parametrize(
    "text",
    [
        "stream.drive.hole_ms=1",
        "stream.none.delivery_ratio=0.1",
        "stream.drive.failsafe.nuisance_per_hour=1",
        "stream.drive.delivery_ratio",
        "stream.drive.delivery_ratio=0",
        "stream.drive.delivery_ratio=nan",
    ],
)
def test_a_figure_without_an_interval_and_no_width_are_refused(text: str) -> None:
    with pytest.raises(NarrowError, match=r"--narrow: must be"):
        narrow_of(text, INDEPENDENT)


FIGURE = "stream.drive.delivery_ratio"


def misses(scenario: Scenario, truth: float, half_width: float, most: int) -> tuple[int, set[int]]:
    """How many of a thousand small studies miss the truth, and where they stopped."""
    asked = Narrow(figure=FIGURE, half_width=half_width)
    missed, stops = 0, set()
    for study in range(STUDIES):
        found = until_narrow(scenario, asked, most, first=192 * study)
        assert found.interval is not None
        low, high = found.interval
        missed += not low <= truth <= high
        stops.add(len(found.tallies))
    return missed, stops


@pytest.mark.slow
def test_a_thousand_studies_of_independent_losses_keep_their_coverage() -> None:
    missed, stops = misses(INDEPENDENT, 0.8, 0.055, 64)

    assert len(stops) > 1, "it always stopped at the same look: nothing was tested"
    assert missed / STUDIES <= 0.05 + FIVE_ERRORS


@pytest.mark.slow
def test_a_thousand_studies_of_drifting_clocks_keep_their_coverage() -> None:
    # Facts 5: over random phase a frame of length a meets one of length b, period T, with
    # probability (a + b) / T.
    a, b = (tx.frame_ns for tx in make_plan(DRIFTING, 0).tx)
    missed, stops = misses(DRIFTING, 1 - (a + b) / 20e6, 0.024, 32)

    assert len(stops) > 1, "it always stopped at the same look: nothing was tested"
    assert missed / STUDIES <= 0.05 + FIVE_ERRORS
