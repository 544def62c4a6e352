"""How often the clocks of two senders meet, and whether a run can have seen it (rule T6).

Source: facts derived from two periodic senders. Nearly equal periods, or nearly a whole multiple
of one another, meet every T₁·T₂/|T₁ − m·T₂| (m = 1: the textbook beat period) and stay in each
other's air time for a while; periods further from a multiple meet all the time, briefly.
"""

import math
from itertools import combinations

from radiosim.engine.plan import Plan
from radiosim.engine.plan_rows import (
    ANSWERED,
    PROGRAM_PAUSES,
    PROGRAM_RESUMES,
    PROGRAM_STARTS,
    PROGRAM_STOPS,
    Step,
    Tx,
)
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
    """Expected meetings of the pair that meets least; inf where nothing needs to be seen.

    Only time in which both senders' programs run can show a meeting.
    """
    pairs = combinations(range(len(plan.tx)), 2)
    return min(
        (expected_meetings(plan.tx[a], plan.tx[b], shared_ns(plan, a, b)) for a, b in pairs),
        default=math.inf,
    )


def shared_ns(plan: Plan, first: int, second: int) -> int:
    """For how long the programs of two senders ran at the same time."""
    running = {first: False, second: False}
    total_ns = since_ns = 0
    for step in (*plan.steps, Step(plan.until_ns, first, PROGRAM_STOPS)):
        if step.unit not in running or step.kind not in _RUNS:
            continue
        if all(running.values()):
            total_ns += step.at_ns - since_ns
        running[step.unit], since_ns = _RUNS[step.kind], step.at_ns
    return total_ns


_RUNS = {
    PROGRAM_STARTS: True,
    PROGRAM_RESUMES: True,
    PROGRAM_STOPS: False,
    PROGRAM_PAUSES: False,
}
