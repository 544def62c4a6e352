"""What the periods of two senders say before anything is simulated (facts 5)."""

from itertools import combinations

from msgspec import Struct

from radiosim.engine.meeting_phase import distance_from_multiple, window_ns
from radiosim.engine.plan import Plan
from radiosim.engine.rules.sampling import TIMER
from radiosim.units import NS_PER_MS


class Pair(Struct, frozen=True, kw_only=True):
    """Two senders on timers."""

    first: str
    second: str
    clash_share: float
    """Share of the frames of `first` that meet one of `second`, were the phase random."""
    is_near: bool
    """The longer period lies within both frames, answers and jitter of a multiple of the other."""
    distance_ms: float
    """From that multiple."""
    window_ms: float
    """How near counts: both frames, answers and both jitters."""
    spell_frames: float | None
    """How many frames in a row meet once they do; None where they do not stay."""
    every_s: float | None
    """From one such spell to the next."""


def pairs_of(plan: Plan) -> tuple[Pair, ...]:
    """Every two senders on timers, in file order."""
    found = []
    for i, k in combinations(range(len(plan.tx)), 2):
        first, second = plan.tx[i], plan.tx[k]
        if first.pacing != TIMER or second.pacing != TIMER:
            continue
        window = window_ns(first, second)
        reach = window + first.jitter_ns + second.jitter_ns
        periods = [tx.period_ns * (1 + tx.ppb / 1e9) for tx in (first, second)]
        long_ns, short_ns = max(periods), min(periods)
        nominal = sorted((first.period_ns, second.period_ns), reverse=True)
        distance = distance_from_multiple(*nominal)
        slip = abs(long_ns - round(long_ns / short_ns) * short_ns)
        is_near = distance < reach
        found.append(
            Pair(
                first=plan.streams[i],
                second=plan.streams[k],
                clash_share=min(1.0, window / second.period_ns),
                is_near=is_near,
                distance_ms=distance / NS_PER_MS,
                window_ms=reach / NS_PER_MS,
                spell_frames=reach / slip if is_near and slip > 0 else None,
                every_s=short_ns * long_ns / slip / 1e9 if is_near and slip > 0 else None,
            )
        )
    return tuple(found)
