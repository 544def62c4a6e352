"""Where an estimate of rare trips cannot be trusted, and why, in words."""

import math
from collections.abc import Iterator, Sequence

from radiosim.chance import ONE_53
from radiosim.engine.choice import load_fast
from radiosim.engine.machine import machine_for
from radiosim.engine.plan import Plan
from radiosim.engine.plan_rows import ANSWERED, Tx
from radiosim.engine.rules.sampling import ELAPSED
from radiosim.measure.requirements import BEATS_TO_HAVE_SEEN
from radiosim.study.rare.group import GroupResult
from radiosim.study.rare.pilot import Ladder
from radiosim.units import NS_PER_MS

LARGEST_BYTES = 100_000
"""Of a world that is copied; some thousand copies are held at a time."""
STARTS = 8
"""Starts that must have got to the first level."""
ANCESTORS = 12
"""First crossings from which trips must descend."""
EVEN_GROUPS = 4.0
"""As spread as over so many equal groups the estimate must be."""


def why_not(plan: Plan, unwanted: str) -> str:
    """Why runs cannot be copied into other futures at all; empty if they can.

    `unwanted`: not empty if the compiled engine is not wanted, for this reason.
    """
    loaded = load_fast()
    if isinstance(loaded, str) or unwanted:
        return f"it takes the compiled engine: {loaded if isinstance(loaded, str) else unwanted}"
    if not loaded.can_run(plan) or machine_for(plan).compiler is None:
        return "it takes the compiled engine, which has no room for this scenario"
    if loaded.begin(plan).moment().head.nbytes > LARGEST_BYTES:
        return "FIFOs or work of this scenario are too large to be copied so often"
    if not plan.rx.weighs and not any(_draws(tx) for tx in plan.tx):
        return (
            "nothing is drawn while it runs (no loss by chance, no jitter): a copy cannot differ "
            "from its original, and only other phases and clocks can make a trip"
        )
    return ""


def _draws(tx: Tx) -> bool:
    """Whether a copy of a world in which this transmitter sends can differ from it."""
    losses = [tx.loss_53, tx.bad_loss_53]
    if tx.acknowledge == ANSWERED:
        losses += [tx.ack_loss_53, tx.bad_ack_loss_53]
    is_lossy = any(0 < loss < ONE_53 for loss in losses)
    return is_lossy or (tx.jitter_ns > 0 and tx.pacing != ELAPSED)


def doubts(ladder: Ladder, groups: Sequence[GroupResult]) -> Iterator[str]:
    """What speaks against the estimate of some groups."""
    starts = sum(group.crossing_starts for group in groups)
    beats = min((sum(pair) for pair in _by_pair(groups)), default=math.inf)
    if beats < BEATS_TO_HAVE_SEEN:
        yield (
            f"the transmitters' clocks beat so rarely that the starts can have seen {beats:.2g} "
            f"beats in all; it takes {BEATS_TO_HAVE_SEEN:g} or more"
        )
    if starts < STARTS:
        level_ms = ladder.levels_ns[0] / NS_PER_MS
        yield (
            f"only {starts} starts ever went unfed for {level_ms:.4g} ms, the first level; it "
            f"takes {STARTS} or more"
        )
    elif ladder.why_short:
        yield ladder.why_short
    elif ladder.is_whole:
        yield from narrow_descent(groups, -1)


def narrow_descent(groups: Sequence[GroupResult], level: int) -> Iterator[str]:
    """What speaks against the estimate of what reaches a level."""
    ancestors = sum(group.origins[level] for group in groups)
    if ancestors < ANCESTORS:
        yield (
            f"what was found descends from {ancestors} crossings of the first level; it takes "
            f"{ANCESTORS} or more"
        )
        return
    reached = [group.reached[level] for group in groups]
    even = sum(reached) ** 2 / sum(share**2 for share in reached)
    if even < EVEN_GROUPS:
        yield f"a few of {len(groups)} groups of starts make nearly all of it"


def _by_pair(groups: Sequence[GroupResult]) -> list[tuple[float, ...]]:
    return list(zip(*(group.beats for group in groups), strict=True))
