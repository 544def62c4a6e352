"""Every start of a scenario, on all cores, measured and pooled as they come."""

import functools
import math
from collections.abc import Iterable
from concurrent.futures import Executor

import msgspec

from radiosim.engine.choice import Engine, choose
from radiosim.engine.choice import make_ready as make_engine_ready
from radiosim.engine.plan import make_plan
from radiosim.engine.simulate import flow
from radiosim.errors import OptionError
from radiosim.measure.start import make_folds_ready, tally_flow
from radiosim.measure.summarise import pool_starts, summary_of_pool
from radiosim.measure.summary import Summary
from radiosim.measure.tally import Pool, Range, StartTally
from radiosim.scenario import Scenario
from radiosim.study.run_points import OnProgress, run_points

BATCHES, MOST_IN_BATCH = 40, 16
"""About how many batches a run has, and how many starts one has at most."""
QUICK_S = 3_000.0
"""Simulated seconds, summed over transmitters, that are done before a pool of processes has
started."""


def simulate_starts(
    scenario: Scenario,
    *,
    first: int = 0,
    count: int | None = None,
    engine: Engine = "auto",
    workers: int | None = None,
    on_progress: OnProgress | None = None,
    executor: Executor | None = None,
    has_curves: bool = False,
) -> Summary:
    """Summary of `count` starts (the scenario's own number if None) from `first` on.

    Starts run in a pool of processes, or in `executor` if one is given; the result does not
    depend on which. What is kept of a start does not grow with its length. `on_progress(done,
    total)` is called as they begin and as they finish. With `has_curves` it has what a page draws.
    ValueError for a negative `first` or a `count` below one.
    """
    total = scenario.starts if count is None else count
    if first < 0 or total < 1:
        raise ValueError(f"first must be >= 0 and count >= 1, got {first} and {total}")
    starts = Range(first=first, count=total)
    is_quick = executor is None and workers is None and _is_quick(scenario, total, engine)
    whole = run_points(
        functools.partial(pool_batch, scenario, starts, engine=engine),
        batches_of(starts),
        fold=joined_in_turn,
        size_of=len,
        is_ready=True,
        executor=executor,
        workers=1 if is_quick else workers,
        on_progress=on_progress,
    )
    return summary_of_pool(scenario, whole, has_curves=has_curves)


MOST_STARTS = 1_000_000
"""As many as a scenario may ask for."""


def lasting(scenario: Scenario, hours: float) -> Scenario:
    """The scenario with as many starts as make some hours in all; OptionError for too many."""
    if not 0 < hours < math.inf:
        raise OptionError(f"--hours: must be a number > 0, got {hours:g}")
    starts = max(1, math.ceil(hours * 3600 / scenario.duration_s))
    if starts > MOST_STARTS:
        raise OptionError(
            f"--hours: must be at most {MOST_STARTS:,} starts of {scenario.duration_s:g} s "
            f"({MOST_STARTS * scenario.duration_s / 3600:g} h), got {hours:g} h"
        )
    return msgspec.structs.replace(scenario, starts=starts)


def _is_quick(scenario: Scenario, count: int, engine: Engine) -> bool:
    simulated_s = count * scenario.duration_s * len(scenario.transmitter)
    return simulated_s <= QUICK_S and choose(engine).engine == "fast"


def batches_of(starts: Range) -> tuple[range, ...]:
    """The starts in batches that do not depend on workers: sums are alike to the last bit."""
    size = min(MOST_IN_BATCH, max(1, starts.count // BATCHES))
    end = starts.first + starts.count
    return tuple(range(k, min(k + size, end)) for k in range(starts.first, end, size))


def tally_of(scenario: Scenario, engine: Engine, start: int) -> StartTally:
    """One start, simulated and measured."""
    return tally_flow(flow(scenario, start=start, engine=engine))


def tallies_of(scenario: Scenario, starts: range, engine: Engine) -> tuple[StartTally, ...]:
    """Some starts of a point, one after the other: points themselves are spread over workers."""
    return run_points(functools.partial(tally_of, scenario, engine), starts, fold=tuple, workers=1)


def pool_batch(scenario: Scenario, starts: Range, batch: range, engine: Engine) -> Pool:
    """A batch of the starts of a run, simulated and measured."""
    return pool_starts(scenario, starts, [tally_of(scenario, engine, k) for k in batch])


def joined_in_turn(pools: Iterable[Pool]) -> Pool:
    """The sum of pools, of which one at a time is held; ValueError if there is none."""
    whole: Pool | None = None
    for pool in pools:
        whole = pool if whole is None else whole + pool
    if whole is None:
        raise ValueError("a run has at least one start")
    return whole


def make_ready(scenario: Scenario, engine: Engine) -> None:
    """Load and compile whatever a start needs, so that forked processes find it there."""
    make_engine_ready(engine, make_plan(scenario, 0), lambda: None)
    make_folds_ready(scenario, engine)
