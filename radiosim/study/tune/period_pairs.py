"""What two periods say before anything is simulated: of two transmitters, or of one and a grid
beside the link (facts 5)."""

import math
from collections.abc import Iterable, Mapping
from itertools import combinations

from msgspec import Struct

from radiosim.engine.grids import Grid, grid_window_ns, is_slower, reaches
from radiosim.engine.named_grids import named_grids
from radiosim.engine.plan import Plan, make_plan
from radiosim.engine.plan_drift import drift_of
from radiosim.engine.plan_emitters import EMITTER_PPB
from radiosim.engine.plan_rows import ACKNOWLEDGING, Drift, Tx
from radiosim.engine.plan_units import CLOCK_PPB
from radiosim.engine.stratification import distance_from_multiple, does_dither_part, reach_ns
from radiosim.scenario import Scenario
from radiosim.scenario.structs.receiver_table import Receiver
from radiosim.scenario.structs.transmitter_table import Transmitter
from radiosim.scenario.traffic import sending_ns
from radiosim.units import NS_PER_MS, NS_PER_S, ns_from_ms


class Clocked(Struct, frozen=True, kw_only=True):
    """Something that comes at a fixed rate."""

    period_ns: float
    """With a clock error that is given."""
    off: float
    """How far a clock may be off that is not known, and how far it drifts, as a share."""
    drifts: bool = False


class Pair(Struct, frozen=True, kw_only=True):
    """Two transmitters, or a transmitter and a grid."""

    first: str
    second: str
    """Path of a grid: `receiver.deaf[0]`, `receiver.work[0]`, `interferer.hall`."""
    clash_share: tuple[float, float]
    """Share of the first's attempts, and of the second's, that meet the other, were the phase
    random; a grid has none, and work of the receiver meets no attempts."""
    acknowledgement_share: tuple[float, float]
    """Share of the acknowledgements to each that meet the other; of grids none."""
    is_beating: bool
    """One period is so near to a whole multiple of the other that they beat, and stay."""
    distance_ms: float
    """From that multiple."""
    window_ms: float
    """How near counts: both frames, what makes the receiver deaf, both jitters and dithers, both
    clocks; of a grid its span, less what retries outlast."""
    burst_frames: float | None
    """How many frames in a row meet at least once they do, with clocks as far apart as can be;
    None: they never come apart."""
    every_s: float | None
    """From one such burst to the next, at least; None: they never come apart."""

    @property
    def has_grid(self) -> bool:
        """Whether it is a transmitter and a grid; names of transmitters have no dots."""
        return "." in self.second

    @property
    def transmitters(self) -> tuple[str, ...]:
        """Both, or the one beside a grid."""
        return (self.first,) if self.has_grid else (self.first, self.second)


def clocked_of(scenario: Scenario, plan: Plan | None = None) -> dict[str, Clocked]:
    """All transmitters and grids of a scenario, by what pairs name them by."""
    grids = named_grids(scenario, plan or make_plan(scenario, 0))
    return {
        **{
            name: _drifting(period_ns(scenario, name), _off(unit), drift_of(scenario, name))
            for name, unit in scenario.transmitter.items()
        },
        **{name: _grid_clocked(scenario, grid) for name, grid in grids.items()},
    }


def _grid_clocked(scenario: Scenario, grid: Grid) -> Clocked:
    if grid.of == "emitter":
        return Clocked(period_ns=grid.period_ns, off=EMITTER_PPB / 1e9)
    receiver = scenario.receiver
    given = 1 + (receiver.clock_ppm or 0.0) / 1e6
    return _drifting(grid.period_ns * given, _off(receiver), grid.drift)


def _drifting(period: float, off: float, drift: Drift) -> Clocked:
    """What comes on a clock that may drift, at its mean rate and as far off it as it comes."""
    mean_ns = period * (1 + drift.mean_ppb / 1e9)
    return Clocked(period_ns=mean_ns, off=off + drift.most_ppb / 1e9, drifts=bool(drift.drifts))


def _off(unit: Transmitter | Receiver) -> float:
    return 0.0 if unit.clock_ppm is not None else CLOCK_PPB[unit.clock] / 1e9


def pairs_of(scenario: Scenario) -> tuple[Pair, ...]:
    """Every two transmitters, in file order, then each with every grid that takes frames of it.

    A program that looks at its clock, or pauses after a send, keeps a period of its own too while
    no retry stretches it (rules A2 and A3).
    """
    plan = make_plan(scenario, 0)
    clocked, places = clocked_of(scenario, plan), range(len(plan.tx))
    return (
        *(_pair(plan, clocked, i, k) for i, k in combinations(places, 2)),
        *(
            _grid_pair(plan, clocked, i, name, grid)
            for i in places
            for name, grid in named_grids(scenario, plan).items()
            if reaches(plan.rx, plan.tx[i], grid) and grid_window_ns(plan.tx, i, grid)
        ),
    )


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


def _pair(plan: Plan, clocked: Mapping[str, Clocked], i: int, k: int) -> Pair:
    names, tx = (plan.streams[i], plan.streams[k]), (plan.tx[i], plan.tx[k])
    one_ns, other_ns = (clocked[name].period_ns for name in names)
    return _made(
        names,
        clocked,
        reach_ns(*tx),
        clash_share=(_clash(tx[0], tx[1], other_ns), _clash(tx[1], tx[0], one_ns)),
        acknowledgement_share=(
            _acknowledgements(tx[0], tx[1], other_ns),
            _acknowledgements(tx[1], tx[0], one_ns),
        ),
        can_beat=not does_dither_part(*tx),
        dither_ns=tx[0].dither_ns + tx[1].dither_ns,
    )


def _grid_pair(
    plan: Plan, clocked: Mapping[str, Clocked], place: int, name: str, grid: Grid
) -> Pair:
    names, tx = (plan.streams[place], name), plan.tx[place]
    own_ns, grid_ns = (clocked[one].period_ns for one in names)
    window = grid_window_ns(plan.tx, place, grid)
    can_beat = (
        not is_slower(grid, own_ns)
        and tx.jitter_ns < min(own_ns, grid_ns) / 2
        and tx.dither_ns < window
    )
    meets_ns = 0 if grid.of == "work" else tx.frame_ns + grid.takes_ns
    return _made(
        names,
        clocked,
        window + tx.jitter_ns + tx.dither_ns,
        clash_share=(min(1.0, meets_ns / grid_ns), 0.0),
        acknowledgement_share=(0.0, 0.0),
        can_beat=can_beat,
        dither_ns=tx.dither_ns,
    )


def _made(
    names: tuple[str, str],
    clocked: Mapping[str, Clocked],
    reach_ns: int,
    *,
    clash_share: tuple[float, float],
    acknowledgement_share: tuple[float, float],
    can_beat: bool,
    dither_ns: int,
) -> Pair:
    """A pair; `reach_ns`: how near its schedules must come, clocks apart; `dither_ns`: how far
    dither moves them at most in a frame."""
    both = tuple(clocked[name] for name in names)
    long_ns, short_ns = sorted((one.period_ns for one in both), reverse=True)
    clocks_ns = long_ns * math.fsum(one.off for one in both)
    distance_ns = distance_from_multiple(long_ns, short_ns)
    slip_ns = distance_ns + clocks_ns + dither_ns
    return Pair(
        first=names[0],
        second=names[1],
        clash_share=clash_share,
        acknowledgement_share=acknowledgement_share,
        is_beating=can_beat and distance_ns < reach_ns + clocks_ns,
        distance_ms=distance_ns / NS_PER_MS,
        window_ms=(reach_ns + clocks_ns) / NS_PER_MS,
        burst_frames=max(1.0, reach_ns / slip_ns) if slip_ns else None,
        every_s=long_ns * short_ns / slip_ns / NS_PER_S if slip_ns else None,
    )


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
