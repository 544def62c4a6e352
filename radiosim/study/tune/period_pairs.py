"""What the periods of two transmitters say before anything is simulated (facts 5)."""

import math
from collections.abc import Iterable
from itertools import combinations

from msgspec import Struct

from radiosim.engine.plan import CLOCK_PPB, Plan, make_plan
from radiosim.engine.plan_rows import ACKNOWLEDGING, Tx
from radiosim.engine.stratification import distance_from_multiple, window_ns
from radiosim.scenario import Scenario
from radiosim.scenario.structs.transmitter_table import Transmitter
from radiosim.scenario.traffic import sending_ns
from radiosim.units import NS_PER_MS, NS_PER_S, ns_from_ms


class Pair(Struct, frozen=True, kw_only=True):
    """Two transmitters."""

    first: str
    second: str
    clash_share: tuple[float, float]
    """Share of the first's attempts, and of the second's, that meet the other, were the phase
    random."""
    acknowledgement_share: tuple[float, float]
    """Share of the acknowledgements to each that meet the other."""
    is_beating: bool
    """One period is so near to a whole multiple of the other that they beat, and stay."""
    distance_ms: float
    """From that multiple."""
    window_ms: float
    """How near counts: both frames, what makes the receiver deaf, both jitters, both clocks."""
    burst_frames: float | None
    """How many frames in a row meet at least once they do, with clocks as far apart as can be;
    None: they never come apart."""
    every_s: float | None
    """From one such burst to the next, at least; None: they never come apart."""


def pairs_of(scenario: Scenario) -> tuple[Pair, ...]:
    """Every two transmitters, in file order.

    A program that looks at its clock, or pauses after a send, keeps a period of its own too while
    no retry stretches it (rules A2 and A3).
    """
    plan = make_plan(scenario, 0)
    return tuple(_pair(scenario, plan, i, k) for i, k in combinations(range(len(plan.tx)), 2))


def clash_share_of(pairs: Iterable[Pair], stream: str) -> float:
    """Share of one stream's attempts that meet any other transmitter's, were all phases random."""
    clear = 1.0
    for pair in pairs:
        for name, share in zip((pair.first, pair.second), pair.clash_share, strict=True):
            clear *= 1 - share if name == stream else 1
    return 1 - clear


def period_ns(scenario: Scenario, name: str) -> float:
    """From one sample of a transmitter to the next, with a clock error that is given, ns.

    Of a program that waits for its radio: while its first attempts succeed.
    """
    unit = scenario.transmitter[name]
    sending = sending_ns(scenario, name, unit)[0]
    if unit.pacing == "after_send":
        apart_ns = ns_from_ms(unit.pause_ms or 0.0) + sending
    else:
        apart_ns = ns_from_ms(unit.period_ms or 0.0)
        if unit.pacing == "elapsed":
            turns = max(1, math.ceil((apart_ns - sending) / (unit.loop_ms * 1e6)))
            apart_ns = sending + round(turns * unit.loop_ms * 1e6)
    return apart_ns * (1 + (unit.clock_ppm or 0.0) / 1e6)


def periods_near(own_ms: float) -> list[int]:
    """Whole periods from half to double of one, ms, the nearest first; of two equally near the
    longer, which leaves more air."""
    whole = range(max(1, int(own_ms / 2)), int(2 * own_ms) + 1)
    return sorted(whole, key=lambda period: (abs(period - own_ms), -period))


def _pair(scenario: Scenario, plan: Plan, i: int, k: int) -> Pair:
    names, tx = (plan.streams[i], plan.streams[k]), (plan.tx[i], plan.tx[k])
    periods = tuple(period_ns(scenario, name) for name in names)
    long_ns, short_ns = max(periods), min(periods)
    widths = sum(_clock_width(scenario.transmitter[name]) for name in names)
    clocks_ns = long_ns * widths
    reach_ns = window_ns(*tx) + tx[0].jitter_ns + tx[1].jitter_ns
    distance_ns = distance_from_multiple(long_ns, short_ns)
    slip_ns = distance_ns + clocks_ns
    return Pair(
        first=names[0],
        second=names[1],
        clash_share=(_clash(tx[0], tx[1], periods[1]), _clash(tx[1], tx[0], periods[0])),
        acknowledgement_share=(
            _acknowledgements(tx[0], tx[1], periods[1]),
            _acknowledgements(tx[1], tx[0], periods[0]),
        ),
        is_beating=distance_ns < reach_ns + clocks_ns,
        distance_ms=distance_ns / NS_PER_MS,
        window_ms=(reach_ns + clocks_ns) / NS_PER_MS,
        burst_frames=max(1.0, reach_ns / slip_ns) if slip_ns else None,
        every_s=long_ns * short_ns / slip_ns / NS_PER_S if slip_ns else None,
    )


def _clock_width(unit: Transmitter) -> float:
    """How far a clock may be off that is not known, as a share."""
    return 0.0 if unit.clock_ppm is not None else CLOCK_PPB[unit.clock] / 1e9


def _clash(tx: Tx, other: Tx, period: float) -> float:
    """Share of attempts that meet the other's frames, or the receiver deaf for them (facts 5)."""
    deaf_ns = 2 * other.settle_ns + other.ack_ns if other.acknowledge == ACKNOWLEDGING else 0
    return min(1.0, (tx.frame_ns + other.frame_ns + deaf_ns) / period)


def _acknowledgements(tx: Tx, other: Tx, period: float) -> float:
    """Share of acknowledgements that meet the other's frames.

    A longer overlap took the frame itself.
    """
    if tx.acknowledge != ACKNOWLEDGING:
        return 0.0
    return min(1.0, (min(other.frame_ns, tx.settle_ns) + tx.ack_ns) / period)
