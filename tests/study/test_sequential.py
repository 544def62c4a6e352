"""Starts added until an interval is narrow enough; `tests/reference` counts what they cover."""

import pytest

from radiosim.scenario import parse
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

FIGURE = "stream.drive.delivery_ratio"


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


def test_what_comes_out_depends_on_the_scenario_and_the_question_alone() -> None:
    asked = Narrow(figure=FIGURE, half_width=0.05)
    one, again = (until_narrow(INDEPENDENT, asked, 64) for _ in range(2))

    assert one.interval == again.interval
    assert [tally.start for tally in one.tallies] == list(range(len(again.tallies)))


@pytest.mark.parametrize(
    "text",
    [
        "stream.drive.gap_ms.max=1",
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
