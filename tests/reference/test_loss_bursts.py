"""Loss in bursts against Gilbert's chain of two states.

Sources: E. N. Gilbert, BSTJ 39, 1960; E. O. Elliott, BSTJ 42, 1963 (restated); worked values of
facts 6. In continuous time the means of the bursts take the place of chances a step.
"""

import numpy as np
import pytest

from radiosim.radio.bit_errors import both_lost, correlation, mean_loss, share_bad
from tests.reference.outside import CHANCE_OF_FAILURE, DERIVED, RESTATED, check, outside
from tests.reference.sources import FACTS, GILBERT

GOOD_MS, BAD_MS = 900.0, 30.0
TRIALS = 200_000


@outside(
    "share of bad bursts, p/(p + r) with mean bursts 1/p and 1/r",
    source=f"{GILBERT.key}; {FACTS.at('6')}",
    status=RESTATED,
)
def test_share_of_bad_spells() -> None:
    check.near(share_bad(1 / 0.05, 1 / 0.4), 0.1111, within=0.00005)


@outside(
    "correlation of the state, as the limit of Gilbert's (1 − p − r)ⁿ in ever smaller steps",
    source=f"{GILBERT.key}; {FACTS.at('6')}",
    status=DERIVED,
)
@pytest.mark.parametrize("apart_ms", [1.0, 20.0, 60.0])
def test_correlation_is_the_limit_of_small_steps(apart_ms: float) -> None:
    steps = 1_000_000
    p, r = apart_ms / steps / GOOD_MS, apart_ms / steps / BAD_MS

    check.near(correlation(apart_ms, GOOD_MS, BAD_MS), (1 - p - r) ** steps, within=1e-5)


@outside(
    "share of pairs of attempts that are both lost, by simulation of the bursts",
    source=FACTS.at("6"),
    status=DERIVED,
    chance=CHANCE_OF_FAILURE,
)
@pytest.mark.parametrize("apart_ms", [0.5, 20.0, 60.0])
def test_pairs_in_simulated_spells(apart_ms: float) -> None:
    chance = np.random.default_rng(6)
    is_bad = chance.random(TRIALS) < share_bad(GOOD_MS, BAD_MS)
    later = np.array([state_later(bad, apart_ms, chance) for bad in is_bad])
    lost = [chance.random(TRIALS) < np.where(bad, 0.8, 0.01) for bad in (is_bad, later)]

    expected = both_lost(apart_ms, GOOD_MS, BAD_MS, 0.01, 0.8)
    check.share(int((lost[0] & lost[1]).sum()), TRIALS, expected)


def state_later(is_bad: bool, after_ms: float, chance: np.random.Generator) -> bool:
    """Follows the bursts one by one."""
    left_ms = chance.exponential(BAD_MS if is_bad else GOOD_MS)
    while left_ms < after_ms:
        is_bad = not is_bad
        left_ms += chance.exponential(BAD_MS if is_bad else GOOD_MS)
    return bool(is_bad)


@outside("mean loss of both states", source=f"{GILBERT.key}", status=RESTATED)
def test_mean_loss() -> None:
    # Elliott: loss in the good state too. 0.1111 bad.
    check.near(mean_loss(20.0, 2.5, 0.01, 0.8), (0.8 + 8 * 0.01) / 9, within=1e-12)
