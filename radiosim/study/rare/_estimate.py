"""From a scenario to its rare trips: pilot, groups of starts, interval, and doubts in words."""

import math
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import Executor
from functools import partial

from msgspec.structs import replace

from radiosim.chance import ONE_53
from radiosim.engine.jit import backend_for
from radiosim.engine.plan import Plan, make_plan
from radiosim.engine.plan_rows import ACKNOWLEDGING, Tx
from radiosim.engine.rules.timing import ELAPSED
from radiosim.engine.simulate import Engine, load_fast
from radiosim.engine.stratification import EVERY, shares_of
from radiosim.errors import OptionError
from radiosim.measure.intervals import ratio_over_starts
from radiosim.measure.requirements import BEATS_TO_HAVE_SEEN
from radiosim.measure.summary import FailsafeFigures, RareFigures, Summary
from radiosim.scenario import Scenario
from radiosim.study.rare._climbs import ROOM, GroupResult, Ladder, pilot, run_group
from radiosim.study.rare._reach import beside_a_count, within_reach
from radiosim.study.run_points import OnProgress, run_points
from radiosim.study.worker_pool import shared_pool
from radiosim.units import NS_PER_MS
from radiosim.vehicle.supply_limits import can_brown_out

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
    loaded = unwanted or load_fast()
    if isinstance(loaded, str):
        return f"it takes the compiled engine: {loaded}"
    if not loaded.can_run(plan) or backend_for(plan, "fast").compiler is None:
        return "it takes the compiled engine, which has no room for this scenario"
    if loaded.begin(plan).moment().head.nbytes > LARGEST_BYTES:
        return "FIFOs or work of this scenario are too large to be copied so often"
    if not plan.rx.weighs and not any(_draws(tx) for tx in plan.tx):
        return (
            "nothing is drawn while it runs (no loss by chance, no jitter, no dither): a copy "
            "cannot differ from its original, and only other phases and clocks can make a trip"
        )
    return ""


def _draws(tx: Tx) -> bool:
    """Whether a copy of a world in which this transmitter sends can differ from it."""
    losses = [tx.loss_53, tx.bad_loss_53]
    if tx.acknowledge == ACKNOWLEDGING:
        losses += [tx.ack_loss_53, tx.bad_ack_loss_53]
    is_lossy = any(0 < loss < ONE_53 for loss in losses)
    is_late = tx.jitter_ns > 0 and tx.pacing != ELAPSED
    return is_lossy or is_late or tx.dither_ns > 0


def doubts(ladder: Ladder, groups: Sequence[GroupResult]) -> Iterator[str]:
    """What speaks against the estimate of some groups."""
    starts = sum(group.crossing_starts for group in groups)
    beats = min((math.fsum(pair) for pair in _by_pair(groups)), default=math.inf)
    if beats < BEATS_TO_HAVE_SEEN:
        yield (
            f"two clocks of the link beat so rarely that the starts can have seen {beats:.2g} "
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
    even = math.fsum(reached) ** 2 / math.fsum(share**2 for share in reached)
    if even < EVEN_GROUPS:
        yield f"a few of {len(groups)} groups of starts make nearly all of it"


def _by_pair(groups: Sequence[GroupResult]) -> list[tuple[float, ...]]:
    return list(zip(*(group.beats for group in groups), strict=True))


GROUPS = 20
PILOT_STARTS = 4
MOST_S = 36_000.0
"""Simulated time that a study need not pass, if that leaves each group a start."""
ENOUGH_TRIPS = 30
"""So many trips of a run tell their rate without an estimate."""


@shared_pool()
def with_rare(
    scenario: Scenario,
    summary: Summary,
    *,
    engine: Engine = "auto",
    executor: Executor | None = None,
    workers: int | None = None,
    on_progress: OnProgress | None = None,
) -> Summary:
    """A run's summary with an estimate for each failsafe, as far as the model reaches (rule H1).

    Plain rates stand where trips abound. OptionError for figures of a receiver's own program.
    """
    if scenario.receiver.program is not None:
        raise OptionError(
            "--rare: must stand without receiver.program: it estimates what the model does"
        )
    streams = dict(summary.figures.stream)
    wanted = {
        name: figures.failsafe for name, figures in streams.items() if figures.failsafe is not None
    }
    rare = {
        name: _counted(summary, name, failsafe)
        for name, failsafe in wanted.items()
        if failsafe.nuisance_trips >= ENOUGH_TRIPS
    }
    rare |= rare_trips(
        scenario,
        [name for name in wanted if name not in rare],
        first=summary.first_start,
        count=summary.starts,
        engine=engine,
        executor=executor,
        workers=workers,
        on_progress=on_progress,
    )
    for name, failsafe in wanted.items():
        found = beside_a_count(within_reach(rare[name]), failsafe.nuisance_per_hour_ci95)
        streams[name] = replace(streams[name], failsafe=replace(failsafe, rare=found))
    return replace(summary, figures=replace(summary.figures, stream=streams))


def estimate_trips(
    scenario: Scenario,
    name: str,
    *,
    first: int = 0,
    count: int | None = None,
    engine: Engine = "auto",
    executor: Executor | None = None,
    workers: int | None = None,
    on_progress: OnProgress | None = None,
) -> RareFigures:
    """Nuisance trips of one stream, however rare; arguments as for `rare_trips`."""
    found = rare_trips(
        scenario,
        [name],
        first=first,
        count=count,
        engine=engine,
        executor=executor,
        workers=workers,
        on_progress=on_progress,
    )
    return found[name]


def rare_trips(
    scenario: Scenario,
    names: Sequence[str],
    *,
    first: int = 0,
    count: int | None = None,
    engine: Engine = "auto",
    executor: Executor | None = None,
    workers: int | None = None,
    on_progress: OnProgress | None = None,
) -> dict[str, RareFigures]:
    """Nuisance trips of streams with a failsafe, by name, in starts from `first` on.

    About `count` starts (the scenario's own number if None), at least one a group; the pilots take
    the starts after them. The result does not depend on where it is worked out. `on_progress(done,
    total)` counts groups. ValueError for a stream without a failsafe.
    """
    for name in names:
        if name not in scenario.failsafe:
            raise ValueError(f"name must be a stream with a failsafe, got {name!r}")
    plan = make_plan(scenario, first)
    unwanted = "the reference engine was asked for" if engine == "reference" else ""
    why = why_not(plan, unwanted)
    if not why and can_brown_out(scenario):
        why = (
            "what outputs draw can bring the receiver down, and copies of a run do not know what "
            "their own outputs draw"
        )
    if why:
        return {name: _nothing(why) for name in names}
    kinds = len(plan.phases.densities)
    size = group_size(scenario, scenario.starts if count is None else count, plan.phases.densities)
    after = first + GROUPS * size
    work = partial(
        pilot,
        scenario,
        starts=range(after, after + PILOT_STARTS),
        wanted=PILOT_STARTS * ROOM // (2 * size),
    )
    found = run_points(work, names, fold=tuple, executor=executor, workers=workers)
    short = {name: _nothing(ladder.why_short) for name, ladder in zip(names, found, strict=True)}
    ladders = {name: ladder for name, ladder in zip(names, found, strict=True) if ladder.levels_ns}
    starts = [range(first + k * size, first + (k + 1) * size) for k in range(GROUPS)]
    groups = run_points(
        partial(_group, scenario, ladders, shares_of(first, GROUPS * size, kinds)),
        [(name, mine) for name in ladders for mine in starts],
        fold=tuple,
        is_ready=True,
        executor=executor,
        workers=workers,
        on_progress=on_progress,
    )
    return short | {
        name: figures_of_groups(ladder, groups[k * GROUPS : (k + 1) * GROUPS], GROUPS * size)
        for k, (name, ladder) in enumerate(ladders.items())
    }


def _group(
    scenario: Scenario,
    ladders: Mapping[str, Ladder],
    mixture: tuple[float, ...],
    point: tuple[str, range],
) -> GroupResult:
    name, starts = point
    return run_group(scenario, name, ladders[name], starts, mixture)


def figures_of_groups(ladder: Ladder, groups: tuple[GroupResult, ...], starts: int) -> RareFigures:
    """The estimate of groups that know nothing of each other; where there is none, a limit."""
    hours = [group.hours for group in groups]
    trips = [group.reached[-1] for group in groups]
    why = "; ".join(doubts(ladder, groups))
    is_trusted, per_hour = not why, None
    interval: tuple[float, float] | None = None
    total = math.fsum(trips)
    if ladder.is_whole and total > 0:
        per_hour, interval = total / math.fsum(hours), _interval(trips, hours)
    elif ladder.is_negligible and not why:
        high, level_ns = _limit(ladder, groups, hours)
        interval = (0.0, high)
        why = f"the limit is for going unfed for {level_ns / NS_PER_MS:.4g} ms"
        if level_ns < ladder.levels_ns[-1]:
            why = f"{why}; what gets further descends from too few"
    elif not why:
        is_trusted, why = False, "not one copy tripped"
    return RareFigures(
        per_hour=per_hour,
        per_hour_ci95=interval,
        per_frame=None if per_hour is None else total / math.fsum(g.frames for g in groups),
        trusted=is_trusted,
        why=why,
        levels_ms=tuple(level / NS_PER_MS for level in ladder.levels_ns),
        starts=starts,
        crossings=sum(g.crossings for g in groups),
        ancestors=sum(g.origins[-1] for g in groups),
        copies=sum(g.copies for g in groups),
    )


def _interval(counts: Sequence[float], hours: Sequence[float]) -> tuple[float, float]:
    low, high = ratio_over_starts(counts, hours) or (0.0, 0.0)
    return max(0.0, low), high


def _limit(
    ladder: Ladder, groups: Sequence[GroupResult], hours: Sequence[float]
) -> tuple[float, int]:
    """An upper limit from the highest level that is well estimated, and that level."""
    levels = range(len(ladder.levels_ns))
    sound = [level for level in levels if not any(narrow_descent(groups, level))]
    level = max(sound, default=0)
    reached = [group.reached[level] for group in groups]
    return _interval(reached, hours)[1], ladder.levels_ns[level]


def group_size(scenario: Scenario, starts: int, densities: tuple[float, ...]) -> int:
    """Starts of a group: of each kind where that does not take too long (rule T6)."""
    kinds = EVERY * len(densities) if densities else 1
    most = max(1, int(MOST_S / scenario.duration_s / GROUPS))
    size = max(1, min(starts // GROUPS, most))
    return max(1, size // kinds) * kinds if kinds <= most else size


def _counted(summary: Summary, name: str, failsafe: FailsafeFigures) -> RareFigures:
    """The rate that was counted, where trips are not rare."""
    hours = summary.starts * summary.duration_s / 3600
    sampled = summary.figures.stream[name].sampled
    return RareFigures(
        per_hour=failsafe.nuisance_per_hour,
        per_hour_ci95=failsafe.nuisance_per_hour_ci95,
        per_frame=failsafe.nuisance_per_hour * hours / sampled,
        trusted=True,
        why=f"not rare: {failsafe.nuisance_trips} trips were counted",
        starts=summary.starts,
    )


def _nothing(why: str) -> RareFigures:
    return RareFigures(per_hour=None, per_hour_ci95=None, per_frame=None, trusted=False, why=why)
