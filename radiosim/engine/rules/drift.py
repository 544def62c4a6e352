"""Rules of clocks that drift (rule T7): how late a grid is by an instant, in closed form.

Never step by step: how late it is, is the integral of the drift since the unit was switched on.
"""

import math

from radiosim.engine.plan_rows import Drift
from radiosim.marks import rule


@rule
def lateness_ns(drift: Drift, at_ns: int) -> float:
    """How much longer the time since switching on has become by an instant, ns.

    ∫ of a line that ends, a constant, and three exponentials.
    """
    t = float(max(0, at_ns - drift.from_ns))
    line = min(t, drift.line_ns)
    late = drift.steady * t + drift.slope * line * (t - 0.5 * line)
    if drift.settle_ns > 0.0:
        left = math.exp(-t / drift.settle_ns)
        late += drift.settle_ns * (
            drift.first * (1.0 - left)
            + drift.second * (1.0 - left * left) / 2.0
            + drift.third * (1.0 - left * left * left) / 3.0
        )
    return late


@rule
def late_by(drift: Drift, since_ns: int, span_ns: int) -> int:
    """How much later a span ends that began at `since_ns`, nearest ns."""
    if drift.drifts == 0:
        return 0
    late = lateness_ns(drift, since_ns + span_ns) - lateness_ns(drift, since_ns)
    return math.floor(late + 0.5)
