"""How often the clocks of two senders meet, and whether a run can have seen it (rule T6).

Source: facts derived from two periodic senders. Nearly equal periods, or nearly a whole multiple
of one another, meet every T₁·T₂/|T₁ − m·T₂| (m = 1: the textbook beat period) and stay in each
other's air time for a while; periods further from a multiple meet all the time, briefly.
"""

import math
from itertools import combinations

from radiosim.engine.plan import Plan
from radiosim.engine.plan_rows import ANSWERED, Tx
from radiosim.engine.rules.grid import scaled
from radiosim.engine.rules.sampling import TIMER


def period_of(tx: Tx) -> int:
    """The true period of a timer sender in one start, ns per 10⁶ samples."""
    return scaled(tx.period_ns * 1_000_000, tx.ppb)


def window_ns(first: Tx, second: Tx) -> int:
    """How near two starts must be for frames to spoil each other (a + b, + deaf time), ns."""
    window = first.frame_ns + second.frame_ns
    for tx in (first, second):
        if tx.acknowledge == ANSWERED:
            window = max(window, first.frame_ns + second.frame_ns + 2 * tx.settle_ns + tx.ack_ns)
    return window


def distance_from_multiple(long_ns: float, short_ns: float) -> float:
    """How far the longer period is from the nearest whole multiple of the shorter, ns."""
    return abs(long_ns - max(1, round(long_ns / short_ns)) * short_ns)


def expected_meetings(first: Tx, second: Tx, duration_ns: int) -> float:
    """Meetings of one pair that one start can be expected to have seen; inf: always meeting.

    Counts the chance to be meeting when it starts. Jitter, and senders that are not on a timer,
    scatter the phase: such a pair counts as seen.
    """
    if first.pacing != TIMER or second.pacing != TIMER:
        return math.inf
    long_ns, short_ns = sorted((period_of(first) / 1e6, period_of(second) / 1e6), reverse=True)
    window = window_ns(first, second)
    slip_ns = distance_from_multiple(long_ns, short_ns)
    if slip_ns >= window or first.jitter_ns >= short_ns / 2 or second.jitter_ns >= short_ns / 2:
        return math.inf
    return min(1.0, window / short_ns) + slip_ns * duration_ns / (long_ns * short_ns)


def rarest_meeting(plan: Plan) -> float:
    """Expected meetings of the pair that meets least; inf where nothing needs to be seen."""
    pairs = combinations(plan.tx, 2)
    return min((expected_meetings(a, b, plan.until_ns) for a, b in pairs), default=math.inf)
