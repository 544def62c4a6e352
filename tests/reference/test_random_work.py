"""Work of random length against the distribution that it is drawn from (rule A4)."""

import numpy as np
import pytest
from scipy import stats

from radiosim.engine.plan import make_plan
from radiosim.engine.plan_rows import Work
from radiosim.engine.rules.timing import work_ns
from radiosim.scenario import parse
from radiosim.vehicle.reaction_bound import longest_pass_ns
from tests.reference.outside import CHANCE_OF_FAILURE, DERIVED, check, outside
from tests.reference.runs import run
from tests.reference.sources import FACTS

TAKES_MS, LONGEST_MS, LOOP_MS = 2.0, 12.0, 5.0
SOURCE = FACTS.at("16")


def busy(share: float, seconds: int = 300) -> str:
    """A receiver that reads something in every pass, and works now and then."""
    return f"""
duration_s = {seconds}
radio.profile = "gfsk-2M"
radio.power_on_reset_ms = 0
radio.crystal_start_us = 0
air.loss = 0
[transmitter.drive]
acknowledge = false
period_ms = 1
payload_bytes = 4
boot_s = 0
clock_ppm = 0
[receiver]
boot_s = 0
clock_ppm = 0
loop_ms = {LOOP_MS}
read = "all"
spi_overhead_us = 0
work = [
  {{ every_ms = 50, takes_ms = {TAKES_MS}, longest_ms = {LONGEST_MS}, stretched_share = {share} }},
]
"""


def lengths_ms(share: float) -> np.ndarray:
    """How long each turn of the work took, off the passes that it made longer."""
    trace = run(busy(share), start=1)
    plan = make_plan(trace.scenario, 1)
    passes = trace.passes
    spent = passes["next_ns"] - passes["start_ns"] - passes["frames"] * plan.tx[0].reading_ns
    found: np.ndarray = (spent - plan.rx.pass_ns) / 1e6
    return found[found > 0]


@outside(
    "mean of work that a share of the turns stretches to any length",
    source=SOURCE,
    status=DERIVED,
    chance=CHANCE_OF_FAILURE,
    unit="ms",
)
@pytest.mark.parametrize("share", [0.3, 1.0])
def test_stretched_work_has_the_mean_of_its_distribution(share: float) -> None:
    found = lengths_ms(share)

    check.mean(found, TAKES_MS + share * (LONGEST_MS - TAKES_MS) / 2)
    assert found.min() >= TAKES_MS
    assert found.max() <= LONGEST_MS


@outside(
    "share of the turns that are stretched",
    source=SOURCE,
    status=DERIVED,
    chance=CHANCE_OF_FAILURE,
    unit="share",
)
@pytest.mark.parametrize("share", [0.05, 0.3])
def test_as_many_turns_are_stretched_as_are_said(share: float) -> None:
    found = lengths_ms(share)

    stretched = found[found > TAKES_MS]
    check.share(len(stretched), len(found), share)
    even = stats.uniform(TAKES_MS, LONGEST_MS - TAKES_MS)
    assert stats.kstest(stretched, even.cdf).pvalue > CHANCE_OF_FAILURE


@pytest.mark.parametrize("more_ns", [1, 1_000, (1 << 31) - 1, 1 << 31, 40_000_000_000])
def test_a_turn_reaches_its_ends_and_never_passes_them(more_ns: int) -> None:
    work = Work(0, 1 << 40, 7, 0, 7 + more_ns, 1 << 53, 3, 4)
    found = np.array([work_ns(work, 5, turn) for turn in range(3000)])

    assert found.min() >= 7
    assert found.max() <= 7 + more_ns
    assert found.max() > 7 + 0.99 * more_ns
    assert found.min() < 7 + 0.01 * more_ns + 1


def test_turns_after_a_boot_are_drawn_afresh() -> None:
    work = Work(0, 1000, 10, 0, 900, 1 << 53, 3, 4)

    assert [work_ns(work, 0, k) for k in range(9)] != [work_ns(work, 1, k) for k in range(9)]


def test_the_bound_of_the_reaction_counts_the_longest_work() -> None:
    def longest_ns(text: str) -> int | None:
        return longest_pass_ns(make_plan(parse(text), 0))

    fixed = busy(1.0).replace(
        f"takes_ms = {TAKES_MS}, longest_ms = {LONGEST_MS}, stretched_share = 1.0",
        f"takes_ms = {LONGEST_MS}",
    )
    assert longest_ns(busy(0.01)) == longest_ns(fixed)
