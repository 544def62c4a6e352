"""Every start of a scenario, on all cores, measured as they come; and the processes that do it."""

import functools
import os
import signal
import sys
import threading
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import BrokenExecutor, Executor, ProcessPoolExecutor
from contextlib import contextmanager
from multiprocessing import get_context, parent_process
from multiprocessing.context import BaseContext

from radiosim.engine.choice import Engine, choose
from radiosim.engine.simulate import flow
from radiosim.errors import RadiosimError
from radiosim.measure.start import tally_flow
from radiosim.measure.summarise import pool_starts, summary_of_pool
from radiosim.measure.summary import Summary
from radiosim.measure.tally import Pool, Range
from radiosim.scenario import Scenario


class WorkersError(RadiosimError):
    """Processes that do not live to finish their work."""


@contextmanager
def pool_of(wanted: int) -> Iterator[Executor]:
    """Some processes; what stops the caller ends them at once. WorkersError if one is lost."""
    pool = ProcessPoolExecutor(wanted, mp_context=_context(), initializer=_begin)
    # All at first: one that starts while another's death is dealt with changes what is being gone
    # through, and the pool's thread ends in a traceback. There is no public way to say so either.
    pool._safe_to_dynamically_spawn_children = False  # type: ignore[attr-defined]
    try:
        yield pool
    except BaseException as error:
        # A stopped run must not wait for starts that nobody will look at.
        # There is no public way to end the processes.
        for process in list((pool._processes or {}).values()):
            process.terminate()
        pool.shutdown(wait=True, cancel_futures=True)
        if isinstance(error, BrokenExecutor):
            raise WorkersError(
                "--workers: processes end before their work is done, perhaps for want of memory; "
                f"try fewer than {wanted}"
            ) from None
        raise
    pool.shutdown()


def _context() -> BaseContext:
    """Forked workers have the compiled code at once; a fork is safe only without other threads."""
    can_fork = sys.platform == "linux" and threading.active_count() == 1
    return get_context("fork" if can_fork else "spawn")


def _begin() -> None:
    """Ctrl-C goes to the whole group: only the parent answers it, by ending its workers.

    A parent that is killed cannot: they see that it is gone.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_the_parent, daemon=True).start()


def _end_with_the_parent() -> None:
    parent = parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


OnProgress = Callable[[int, int], None]


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
    if executor is not None:
        whole = _gathered(executor, scenario, starts, engine, on_progress)
    else:
        whole = _simulated(scenario, starts, engine, workers, on_progress)
    return summary_of_pool(scenario, whole, has_curves=has_curves)


def _simulated(
    scenario: Scenario,
    starts: Range,
    engine: Engine,
    workers: int | None,
    on_progress: OnProgress | None,
) -> Pool:
    """All starts, here or in a pool of processes, whichever is sooner done."""
    wanted = min(workers or os.cpu_count() or 1, starts.count)
    if wanted == 1 or (workers is None and _is_quick(scenario, starts.count, engine)):
        pools = (pool_batch(scenario, starts, batch, engine) for batch in batches_of(starts))
        return _joined(pools, starts, on_progress)
    with pool_of(wanted) as pool:
        return _gathered(pool, scenario, starts, engine, on_progress)


BATCHES, MOST_IN_BATCH = 40, 16
"""About how many batches a run has, and how many starts one has at most."""
QUICK_S = 3_000.0
"""Simulated seconds, summed over transmitters, that are done before a pool of processes has
started."""


def _is_quick(scenario: Scenario, count: int, engine: Engine) -> bool:
    simulated_s = count * scenario.duration_s * len(scenario.transmitter)
    return simulated_s <= QUICK_S and choose(engine).engine == "fast"


def batches_of(starts: Range) -> tuple[range, ...]:
    """The starts in batches that do not depend on workers: sums are alike to the last bit."""
    size = min(MOST_IN_BATCH, max(1, starts.count // BATCHES))
    end = starts.first + starts.count
    return tuple(range(k, min(k + size, end)) for k in range(starts.first, end, size))


def pool_batch(scenario: Scenario, starts: Range, batch: range, engine: Engine) -> Pool:
    """Simulate and measure a batch of the starts of a run."""
    tallies = [tally_flow(flow(scenario, start=k, engine=engine)) for k in batch]
    return pool_starts(scenario, starts, tallies)


def _gathered(
    executor: Executor,
    scenario: Scenario,
    starts: Range,
    engine: Engine,
    on_progress: OnProgress | None,
) -> Pool:
    """Batches run elsewhere, joined in order as they come."""
    run = functools.partial(pool_batch, scenario, starts, engine=engine)
    return _joined(executor.map(run, batches_of(starts)), starts, on_progress)


def _joined(pools: Iterable[Pool], starts: Range, on_progress: OnProgress | None) -> Pool:
    whole: Pool | None = None
    if on_progress is not None:
        on_progress(0, starts.count)
    for pool in pools:
        whole = pool if whole is None else whole + pool
        if on_progress is not None:
            on_progress(len(whole.rows), starts.count)
    if whole is None:
        raise ValueError("a run has at least one start")
    return whole
