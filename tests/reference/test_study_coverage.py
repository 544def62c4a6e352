"""Coverage of intervals at which studies stopped because they were narrow enough.

Source: O. J. Dunn, "Multiple comparisons among means", JASA 56, 1961 (Bonferroni's inequality),
from memory: of intervals that each miss with a chance of 5 % over their number, any misses with a
chance of 5 % at most, so that the one at which a study stops covers 95 % or more. The share of
four hundred studies is compared with five standard errors of room.
"""

import math

import pytest

from radiosim.engine.plan import make_plan
from radiosim.scenario import Scenario, parse
from radiosim.study.starts import Narrow, until_narrow
from tests.reference.outside import FIVE_ERRORS, MEMORY, check, outside
from tests.reference.sources import ALOHA, BONFERRONI, FACTS

QUICK = """
duration_s = 0.5
# All units are up at once: what is missed while they boot is not what is counted here.
radio = { profile = "gfsk-1M", settle_us = 0, crystal_start_us = 0, power_on_reset_ms = 0 }
receiver = { read = "all", boot_s = 0 }
output.none = { stream = "drive", field = "value", kind = "pin" }
"""
INDEPENDENT = parse(
    QUICK
    + """
air.loss = 0.2
transmitter.drive = { boot_s = 0, period_ms = 20, payload_bytes = 12, acknowledge = false, \
clock_ppm = 0 }
"""
)
DRIFTING = parse(
    QUICK
    + """
air.loss = 0
transmitter.drive = { boot_s = 0, period_ms = 20, payload_bytes = 12, acknowledge = false, \
clock_ppm = 10 }
transmitter.head = { boot_s = 0, period_ms = 20, payload_bytes = 12, acknowledge = false, \
clock_ppm = -10 }
"""
)
STUDIES = 400
ROOM = 5 * math.sqrt(0.05 * 0.95 / STUDIES)


def covered(scenario: Scenario, truth: float, half_width: float, most: int) -> float:
    """Share of many small studies, each of other starts, that cover the truth."""
    asked = Narrow(figure="stream.drive.delivery_ratio", half_width=half_width)
    stops, covering = set(), 0
    for study in range(STUDIES):
        found = until_narrow(scenario, asked, most, first=192 * study)
        assert found.interval is not None
        covering += found.interval[0] <= truth <= found.interval[1]
        stops.add(len(found.tallies))
    assert len(stops) > 1, "all stopped at the same look: nothing was tested"
    return covering / STUDIES


@pytest.mark.slow
@outside(
    "share of sequential studies that cover, independent losses",
    source=BONFERRONI.key,
    status=MEMORY,
    chance=FIVE_ERRORS,
)
def test_studies_of_independent_losses_keep_their_coverage() -> None:
    check.between(covered(INDEPENDENT, 0.8, 0.055, 64), 0.95 - ROOM, 1.0, expected=0.95)


@pytest.mark.slow
@outside(
    "share of sequential studies that cover, drifting clocks",
    source=f"{BONFERRONI.key}; {ALOHA.key}; {FACTS.at('5')}",
    status=MEMORY,
    chance=FIVE_ERRORS,
)
def test_studies_of_drifting_clocks_keep_their_coverage() -> None:
    # Over random phase a frame of length a meets one of length b, period T, with (a + b) / T.
    a, b = (tx.frame_ns for tx in make_plan(DRIFTING, 0).tx)
    share = covered(DRIFTING, 1 - (a + b) / 20e6, 0.024, 32)
    check.between(share, 0.95 - ROOM, 1.0, expected=0.95)
