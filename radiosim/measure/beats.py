"""How often the clocks of two transmitters meet, and whether a run can have seen it (rule T6).

Source: facts derived from two periodic transmitters. Nearly equal periods, or nearly a whole
multiple of one another, meet every T₁·T₂/|T₁ − m·T₂| (m = 1: the textbook beat period) and stay in
each other's air time for a while; periods further from a multiple meet all the time, briefly."""

import math
from itertools import combinations

from radiosim.engine.plan import Plan
from radiosim.engine.plan_rows import Tx
from radiosim.engine.running import shared_ns
from radiosim.engine.stratification import (
    distance_from_multiple,
    drifts,
    period_of,
    window_ns,
)


def expected_beats(first: Tx, second: Tx, duration_ns: int) -> float:
    """Beats of one pair that one start can be expected to have seen; inf: always meeting.

    Counts the chance to be meeting when it starts. Jitter, and transmitters that are not on a
    timer, scatter the phase: such a pair counts as seen."""
    if not drifts(first, second):
        return math.inf
    long_ns, short_ns = sorted((period_of(first) / 1e6, period_of(second) / 1e6), reverse=True)
    slip_ns = distance_from_multiple(long_ns, short_ns)
    return min(1.0, window_ns(first, second) / short_ns) + slip_ns * duration_ns / (
        long_ns * short_ns
    )


def seen_beats(plan: Plan) -> tuple[float, ...]:
    """By pair of transmitters: how many of its beats this start can be expected to have seen.

    inf where nothing needs to be seen. Only time in which both transmitters' programs run can show
    a beat; a start that was placed on a beat has seen one."""
    pairs = tuple(combinations(range(len(plan.tx)), 2))
    made = plan.phases.made_for
    return tuple(
        max(
            1.0 if (a, b) == made else 0.0,
            expected_beats(plan.tx[a], plan.tx[b], shared_ns(plan.steps, a, b, plan.until_ns)),
        )
        for a, b in pairs
    )
