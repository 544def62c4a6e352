"""Clocks that drift in plain numbers."""

import functools

from radiosim.engine.plan_rows import Drift
from radiosim.engine.rules.drift import lateness_ns
from radiosim.engine.timeline import FOREVER_NS
from radiosim.radio.crystal import warming_ppm
from radiosim.scenario import Scenario
from radiosim.scenario.structs.drift_table import Drift as Described
from radiosim.units import NS_PER_S, ns_from_s

NO_DRIFT = Drift()
_MINUTE_NS = 60 * NS_PER_S
_LOOKS = 256


def drift_of(scenario: Scenario, name: str) -> Drift:
    """The drift of a transmitter's clock, or of the receiver's where nobody else has that name."""
    unit = scenario.transmitter.get(name)
    described = scenario.receiver.drift if unit is None else unit.drift
    if described is None:
        return NO_DRIFT
    from_ns = 0 if unit is None else ns_from_s(unit.start_s)
    return _row(described, from_ns, ns_from_s(scenario.duration_s))


@functools.lru_cache(maxsize=64)
def _row(described: Described, from_ns: int, until_ns: int) -> Drift:
    warming = (0.0, 0.0, 0.0, 0.0)
    if described.from_c is not None and described.to_c is not None:
        warming = warming_ppm(described.from_c, described.to_c, described.cut_ppm_per_k)
    # A higher frequency makes shorter periods.
    steady, first, second, third = (-ppm / 1e6 for ppm in warming)
    row = Drift(
        drifts=1,
        from_ns=from_ns,
        steady=steady,
        slope=described.ppm_per_minute / 1e6 / _MINUTE_NS,
        line_ns=float(FOREVER_NS if described.for_s is None else ns_from_s(described.for_s)),
        settle_ns=float(max(1, ns_from_s(described.settle_s))),
        first=first + described.settle_ppm / 1e6,
        second=second,
        third=third,
    )
    run_ns = max(1, until_ns - from_ns)
    mean = lateness_ns(row, from_ns + run_ns) / run_ns
    rates = [rate_at(row, from_ns + round((k / _LOOKS) ** 2 * run_ns)) for k in range(_LOOKS + 1)]
    return row._replace(
        mean_ppb=round(mean * 1e9), most_ppb=max(abs(rate - mean) for rate in rates) * 1e9
    )


def rate_at(drift: Drift, at_ns: int) -> float:
    """The drift at an instant, as a share: what `lateness_ns` is the integral of."""
    step_ns = 1_000_000
    late = lateness_ns(drift, at_ns + step_ns) - lateness_ns(drift, at_ns)
    return late / step_ns


def wander_ns(drift: Drift, since_ns: float, at_ns: float) -> float:
    """How far a grid has moved from one instant to another, beside what its mean rate does, ns."""
    if drift.drifts == 0:
        return 0.0
    late = lateness_ns(drift, round(at_ns)) - lateness_ns(drift, round(since_ns))
    return late - drift.mean_ppb * 1e-9 * (at_ns - since_ns)
